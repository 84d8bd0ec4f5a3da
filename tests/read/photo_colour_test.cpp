#include <gtest/gtest.h>
#include <lcms2.h>

#include <opencv2/core.hpp>

#include "read/colour_profile.h"
#include "read/photo_file.h"
#include "read/photo_samples.h"

namespace glintline {
namespace {

using testing::FileBytes;
using testing::scene;
using testing::written;

FileBytes saved(cmsHPROFILE profile) {
  cmsUInt32Number length = 0;
  cmsSaveProfileToMem(profile, nullptr, &length);
  FileBytes bytes(length);
  cmsSaveProfileToMem(profile, bytes.data(), &length);
  cmsCloseProfile(profile);
  return bytes;
}

void name(cmsHPROFILE profile, const char* text) {
  cmsMLU* mlu = cmsMLUalloc(nullptr, 1);
  cmsMLUsetASCII(mlu, "en", "US", text);
  cmsWriteTag(profile, cmsSigProfileDescriptionTag, mlu);
  cmsMLUfree(mlu);
}

FileBytes srgb() { return saved(cmsCreate_sRGBProfile()); }

/// An RGB space with D65 white; `curve` as lcms builds it.
FileBytes rgb_space(const char* text, const cmsCIExyYTRIPLE& primaries, cmsToneCurve* curve) {
  const cmsCIExyY d65 = {0.3127, 0.3290, 1};
  cmsToneCurve* curves[] = {curve, curve, curve};
  cmsHPROFILE profile = cmsCreateRGBProfile(&d65, &primaries, curves);
  cmsFreeToneCurve(curve);
  name(profile, text);
  return saved(profile);
}

// IEC 61966-2-1: the parametric curve of ICC.1, type 3.
cmsToneCurve* srgb_curve() {
  const double parameters[] = {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045};
  return cmsBuildParametricToneCurve(nullptr, 4, parameters);
}

constexpr cmsCIExyYTRIPLE kSrgbPrimaries = {{0.64, 0.33, 1}, {0.30, 0.60, 1}, {0.15, 0.06, 1}};
// SMPTE EG 432-1's primaries with D65 white and sRGB's curve.
constexpr cmsCIExyYTRIPLE kP3Primaries = {{0.680, 0.320, 1}, {0.265, 0.690, 1}, {0.150, 0.060, 1}};
// IEC 61966-2-5 (opRGB), curve 563/256.
constexpr cmsCIExyYTRIPLE kOpRgbPrimaries = {{0.64, 0.33, 1}, {0.21, 0.71, 1}, {0.15, 0.06, 1}};

Result<Photo> photo_with(const FileBytes& icc) {
  testing::JpegOptions options;
  options.icc = icc;
  return read_photo(written(testing::jpeg(scene({640, 480}), options)));
}

TEST(PhotoColour, SrgbInAnySpellingIsNotWorthAWord) {
  EXPECT_EQ(profile_unlike_srgb({}), "");
  EXPECT_EQ(profile_unlike_srgb(srgb()), "");
  EXPECT_EQ(profile_unlike_srgb(rgb_space("home-made", kSrgbPrimaries, srgb_curve())), "");
}

TEST(PhotoColour, WiderSpacesAreNamedAndThePixelsKept) {
  const auto plain = photo_with({});
  const auto p3 = photo_with(rgb_space("Display P3", kP3Primaries, srgb_curve()));
  ASSERT_TRUE(plain.ok() && p3.ok());
  EXPECT_EQ(plain->colour_profile, "");
  EXPECT_EQ(p3->colour_profile, "Display P3");
  EXPECT_EQ(cv::norm(p3->bgr, plain->bgr, cv::NORM_INF), 0);
  EXPECT_EQ(profile_unlike_srgb(rgb_space("opRGB", kOpRgbPrimaries, cmsBuildGamma(nullptr, 563.0 / 256))), "opRGB");
  EXPECT_EQ(profile_unlike_srgb(rgb_space("linear", kSrgbPrimaries, cmsBuildGamma(nullptr, 1))), "linear");
}

TEST(PhotoColour, PngsNameTheirsToo) {
  testing::PngOptions options;
  options.size = {640, 480};
  options.icc = rgb_space("Display P3", kP3Primaries, srgb_curve());
  const auto photo = read_photo(written(testing::png(options, std::vector<FileBytes>(480, FileBytes(640 * 3, 90)))));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(photo->colour_profile, "Display P3");
}

TEST(PhotoColour, BrokenProfilesCostNothing) {
  const auto whole = rgb_space("Display P3", kP3Primaries, srgb_curve());
  for (std::size_t length = 1; length < whole.size(); length += 7) {
    const auto said = profile_unlike_srgb({whole.data(), length});
    EXPECT_TRUE(said.empty() || said == "Display P3" || said == "unnamed profile") << said;
  }
  for (std::size_t at = 0; at < whole.size(); ++at) {
    FileBytes flipped = whole;
    flipped[at] ^= 0xFF;
    (void)profile_unlike_srgb(flipped);
  }
  const auto photo = photo_with(FileBytes(300, 0x33));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  EXPECT_EQ(photo->colour_profile, "");
}

// libjpeg puts a grey picture's sample into all three channels.
TEST(PhotoColour, GreyJpegsFillAllChannels) {
  const auto photo = read_photo(written(testing::jpeg(scene({640, 480}), {.grey = true})));
  ASSERT_TRUE(photo.ok()) << photo.error().what;
  cv::Mat channels[3];
  cv::split(photo->bgr, channels);
  EXPECT_EQ(cv::norm(channels[0], channels[1], cv::NORM_INF), 0);
  EXPECT_EQ(cv::norm(channels[1], channels[2], cv::NORM_INF), 0);
}

}  // namespace
}  // namespace glintline
