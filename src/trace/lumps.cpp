#include "trace/lumps.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
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

/// Light wood is redder than the steel it lies on by at least this ratio of red to blue, linear light: it has two to
/// four times grey's. What steel mirrors of a field is not.
constexpr double kWoodOverSteel = 1.6;

/// Sum of the light some way from a place, mm, in direction `inwards` (a unit axis step).
cv::Vec3d light_inwards(const CutterScene& s, const Point2& from, const Point2& inwards,
                        std::initializer_list<double> away_mm) {
  cv::Vec3d sum(0, 0, 0);
  for (const double away : away_mm) {
    const Point2 at = from + s.px(away) * inwards;
    const cv::Point px(static_cast<int>(at.x()), static_cast<int>(at.y()));
    if (!cv::Rect({}, s.picture.size()).contains(px)) continue;
    const auto& code = s.picture.at<cv::Vec3b>(px);
    for (int c = 0; c < 3; ++c) sum[c] += linear_of(code[c]);
  }
  return sum;
}

/// The same under the skyline at column x.
cv::Vec3d light_under(const CutterScene& s, int x, double y, std::initializer_list<double> under_mm) {
  return light_inwards(s, Point2(x, y), {0, 1}, under_mm);
}

/// Just inside an outline: crumbs are no thicker.
const std::initializer_list<double> kJustInsideMm = {0.1, 0.15, 0.2};

bool redder(const cv::Vec3d& a, const cv::Vec3d& b) { return a[2] * b[0] > kWoodOverSteel * a[0] * b[2]; }

/// True where the columns [from, to) are warmer just under the skyline than half a millimetre to a whole one under the
/// lump's feet.
bool warmer_than_below(const CutterScene& s, const std::vector<int>& top, int from, int to) {
  const int foot = std::min(top[from], top[to - 1]);
  cv::Vec3d lump(0, 0, 0);
  cv::Vec3d steel(0, 0, 0);
  for (int x = from; x < to; ++x) {
    lump += light_under(s, x, top[x], kJustInsideMm);
    steel += light_under(s, x, foot, {0.5, 0.75, 1.0});
  }
  return redder(lump, steel);
}

/// The link's own steel: the light from rivet to rivet, a quarter of a pitch over their line.
cv::Vec3d steel_of(const CutterScene& s) {
  constexpr double kOverRivets = 0.25;
  cv::Vec3d sum(0, 0, 0);
  const double y = s.rear_rivet.y() - kOverRivets * s.pitch_px;
  for (int x = s.column(0); x < s.column(1); ++x) sum += light_under(s, x, y, {-0.3, 0.0, 0.3});
  return sum;
}

/// Crumbs of wood that stand out over whatever lies beside them, a flank for example: redder than the link's steel all
/// along, and high over the chord of their feet. Rust on a gauge's crown is as red, but stands over a chord by no more
/// than the crown's own curve makes. `at`: places of an outline, less the farther out they are; `wood`: by their light.
void add_crumbs(const std::vector<int>& at, const std::vector<bool>& wood, int from, int to, double mm_per_px,
                std::vector<bool>& lump) {
  constexpr double kHighMm = 0.3;
  constexpr double kLeastHighMm = 0.12;  // of a crumb so short that no curve counts
  constexpr double kCrownMm = 1;         // least radius of a crown (from memory)
  constexpr double kLongestCrumbMm = 2.5;
  // Its tips are thinner than the depth that is looked at.
  const int tip = std::max(1, static_cast<int>(0.12 / mm_per_px));
  to = std::min(to, static_cast<int>(at.size()) - tip);
  for (int x = std::max(from, tip); x < to; ++x) {
    if (lump[x] || !wood[x]) continue;
    int last = x;
    for (int k = x; k < to && k - last <= tip; ++k) {
      if (wood[k]) last = k;
    }
    const int a = x - tip;
    const int b = last + tip;
    double over = 0;
    for (int k = a; k <= b; ++k) {
      const double chord = at[a] + (at[b] - at[a]) * static_cast<double>(k - a) / (b - a);
      over = std::max(over, (chord - at[k]) * mm_per_px);
    }
    const double length = (b - a) * mm_per_px;
    const double high = std::min(kHighMm, kLeastHighMm + length * length / (8 * kCrownMm));
    if (over > high && (last - x) * mm_per_px < kLongestCrumbMm) {
      std::fill(lump.begin() + a, lump.begin() + b + 1, true);
    }
    x = last;
  }
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
  const cv::Vec3d steel = steel_of(s);
  std::vector<bool> wood(top.size(), false);
  for (int x = std::max(0, from); x < std::min(to, count); ++x) {
    wood[x] = redder(light_under(s, x, top[x], kJustInsideMm), steel);
  }
  add_crumbs(top, wood, from, to, s.frame.mm_per_px, lump);
  return lump;
}

std::vector<bool> crumbs_before(const CutterScene& s, const std::vector<int>& front, int first_row) {
  // A crumb that stands ahead by a few pixels has its own colour only in its middle: files hold colour coarsely.
  constexpr std::array kUnderBorderMm{0.1, 0.2, 0.3, 0.4};
  const cv::Vec3d steel = steel_of(s);
  const int count = static_cast<int>(front.size());
  std::vector<int> at;
  std::vector<bool> wood;
  for (int k = 0; k < count; ++k) {
    at.push_back(-front[k]);
    const Point2 border(front[k], first_row + k);
    wood.push_back(std::ranges::any_of(kUnderBorderMm, [&](double away) {
      return redder(light_inwards(s, border, {-1, 0}, {away}), steel);
    }));
  }
  std::vector<bool> crumb(front.size(), false);
  add_crumbs(at, wood, 0, count, s.frame.mm_per_px, crumb);
  return crumb;
}

}  // namespace glintline
