#include "trace/lumps.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "math/linear_light.h"

namespace glintline {

namespace {

constexpr double kLongestMm = 1.4;  // gauges are 2 mm long and more (from memory); sawdust of a sharp chain is shorter
constexpr double kStepMm = 0.12;    // a side at least so high ...
constexpr double kSideMm = 0.1;     // ... within so little
constexpr double kLevelMm = 0.3;    // what it lies on is looked at over this length ...
constexpr double kMostFall = 0.5;   // ... and falls or rises no more steeply ...
constexpr double kThickestMm = 1;   // ... and lies no deeper under its top: the gullet's floor does

/// Heights over the lowest column, mm.
std::vector<double> heights(const std::vector<int>& top, double mm_per_px) {
  const int lowest = *std::max_element(top.begin(), top.end());
  std::vector<double> h;
  h.reserve(top.size());
  for (const int y : top) h.push_back((lowest - y) * mm_per_px);
  return h;
}

/// True where [from, to] is level ground not far under `crest`.
bool carries(const std::vector<double>& h, int from, int to, double crest, double mm_per_px) {
  if (from < 0 || to >= static_cast<int>(h.size()) || to <= from) return false;
  const auto [low, high] = std::minmax_element(h.begin() + from, h.begin() + to + 1);
  return *high - *low < kMostFall * (to - from) * mm_per_px && crest - *low < kThickestMm;
}

/// True where the columns [from, to) are warmer just under the skyline than half a millimetre to a whole one under the
/// lump's feet: wood is, whatever the lamp, and what steel mirrors of a field is not.
bool warmer_than_below(const CutterScene& s, const std::vector<int>& top, int from, int to) {
  constexpr double kLeastRatio = 1.6;  // of red to blue, linear light: light wood has two to four times grey's
  const int foot = std::min(top[from], top[to - 1]);
  cv::Vec3d lump(0, 0, 0);
  cv::Vec3d steel(0, 0, 0);
  const auto add = [&s](cv::Vec3d& sum, int x, double y) {
    if (y < 0 || y >= s.picture.rows) return;
    const auto& code = s.picture.at<cv::Vec3b>(static_cast<int>(y), x);
    for (int c = 0; c < 3; ++c) sum[c] += linear_of(code[c]);
  };
  for (int x = from; x < to; ++x) {
    for (const double under : {0.1, 0.15, 0.2}) add(lump, x, top[x] + s.px(under));
    for (const double under : {0.5, 0.75, 1.0}) add(steel, x, foot + s.px(under));
  }
  return lump[2] * steel[0] > kLeastRatio * lump[0] * steel[2];
}

}  // namespace

std::vector<bool> lumps_on(const std::vector<int>& top, int from, int to, double mm_per_px) {
  std::vector<bool> lump(top.size(), false);
  if (top.empty()) return lump;
  const std::vector<double> h = heights(top, mm_per_px);
  const int side = std::max(1, static_cast<int>(std::lround(kSideMm / mm_per_px)));
  const int longest = static_cast<int>(kLongestMm / mm_per_px);
  const int beside = std::max(2, static_cast<int>(kLevelMm / mm_per_px));
  to = std::min(to, static_cast<int>(top.size()));
  // From the far end, so that a lump is tried before the flank behind which it lies.
  for (int a = to - side - 1; a >= std::max(0, from); --a) {
    if (lump[a] || h[a + side] - h[a] < kStepMm) continue;
    std::optional<int> end;  // the farthest foot of a falling side in reach
    for (int b = a + 2 * side; b < std::min(to, a + side + longest); ++b) {
      if (lump[b]) break;
      if (h[b - side] - h[b] >= kStepMm) end = b;
    }
    if (!end) continue;
    const double crest = *std::max_element(h.begin() + a, h.begin() + *end + 1);
    if (carries(h, a - beside, a, crest, mm_per_px) || carries(h, *end, *end + beside, crest, mm_per_px)) {
      // Its sides slant: their feet belong to it.
      const int first = std::max(0, a - side);
      const int last = std::min(static_cast<int>(lump.size()) - 1, *end + side);
      std::fill(lump.begin() + first, lump.begin() + last + 1, true);
    }
  }
  return lump;
}

std::vector<bool> sawdust_on(const CutterScene& s, const std::vector<int>& top, int from, int to) {
  std::vector<bool> lump = lumps_on(top, from, to, s.frame.mm_per_px);
  const int count = static_cast<int>(lump.size());
  for (int a = 0; a < count; ++a) {
    if (!lump[a]) continue;
    int b = a;
    while (b < count && lump[b]) ++b;
    if (!warmer_than_below(s, top, a, b)) std::fill(lump.begin() + a, lump.begin() + b, false);
    a = b;
  }
  return lump;
}

}  // namespace glintline
