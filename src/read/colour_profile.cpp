#include "read/colour_profile.h"

#include <lcms2.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <memory>
#include <vector>

#include "read/exif_block.h"

namespace glintline {

namespace {

// Spellings of sRGB (rounded primaries, sampled curves) stay within 3 levels of one another; Display P3 differs by more
// than 20: tests/read/photo_colour_test.cpp.
constexpr int kClearDifference = 8;

struct Close {
  void operator()(void* profile) const { cmsCloseProfile(profile); }
};
struct Delete {
  void operator()(void* transform) const { cmsDeleteTransform(transform); }
};
using Profile = std::unique_ptr<void, Close>;
using Transform = std::unique_ptr<void, Delete>;

std::vector<std::uint8_t> colour_grid() {
  constexpr std::array<std::uint8_t, 5> kLevels = {0, 64, 128, 192, 255};
  std::vector<std::uint8_t> grid;
  for (const auto red : kLevels) {
    for (const auto green : kLevels) {
      for (const auto blue : kLevels) grid.insert(grid.end(), {red, green, blue});
    }
  }
  return grid;
}

bool looks_like_srgb(cmsHPROFILE profile) {
  const Profile srgb(cmsCreate_sRGBProfile());
  const Transform transform(cmsCreateTransform(profile, TYPE_RGB_8, srgb.get(), TYPE_RGB_8,
                                               INTENT_RELATIVE_COLORIMETRIC, cmsFLAGS_NOOPTIMIZE));
  if (!transform) return true;  // a profile that says nothing usable is treated as none
  const auto grid = colour_grid();
  std::vector<std::uint8_t> shown(grid.size());
  cmsDoTransform(transform.get(), grid.data(), shown.data(), static_cast<cmsUInt32Number>(grid.size() / 3));
  return std::equal(grid.begin(), grid.end(), shown.begin(),
                    [](int a, int b) { return std::abs(a - b) <= kClearDifference; });
}

std::string name_of(cmsHPROFILE profile) {
  std::array<char, 128> name{};
  cmsGetProfileInfoASCII(profile, cmsInfoDescription, "en", "US", name.data(), name.size());
  const std::string plain = plain_text(std::string(name.data(), name.size()));
  return plain.empty() ? "unnamed profile" : plain;
}

}  // namespace

std::string profile_unlike_srgb(Bytes icc) {
  if (icc.empty()) return "";
  const Profile profile(cmsOpenProfileFromMem(icc.data(), static_cast<cmsUInt32Number>(icc.size())));
  if (!profile || cmsGetColorSpace(profile.get()) != cmsSigRgbData || looks_like_srgb(profile.get())) return "";
  return name_of(profile.get());
}

}  // namespace glintline
