#include "trace/landmarks.h"

#include <algorithm>
#include <cmath>

#include "trace/lumps.h"

namespace glintline {

namespace {

/// True where light that is not the field's comes from under the skyline. A gauge turns its face to the camera; as high
/// may stand, in the field's colour, the shadow of the next cutter, whose rim stopped the flood.
bool shows_steel(const CutterScene& s, int x, int y) {
  int steel = 0;
  for (const double under_mm : {0.3, 0.5, 0.7}) {
    const int row = y + static_cast<int>(s.px(under_mm));
    steel += row < s.picture.rows && s.field->differs(s.picture.at<cv::Vec3b>(row, x)) ? 1 : 0;
  }
  return steel >= 2;
}

/// Column of the gauge's crown: the highest place ahead of the front rivet that is no lump of sawdust; where that shows
/// no steel, the highest place that does, if it is a bump of its own, parted from there or from what lies beyond it,
/// and not the link's body under a gauge that mirrors the field.
int gauge_column(const CutterScene& s, const std::vector<int>& top, const std::vector<bool>& lumps) {
  constexpr double kMostUnderMm = 1;
  constexpr double kLeastDipMm = 0.5;
  std::optional<int> highest;
  std::optional<int> steel;
  for (int x = s.column(0.95); x < s.column(1.45); ++x) {
    if (lumps[x]) continue;
    if (!highest || top[x] < top[*highest]) highest = x;
    if ((!steel || top[x] < top[*steel]) && shows_steel(s, x, top[x])) steel = x;
  }
  if (!highest) return s.column(0.95);
  if (!steel || top[*steel] - top[*highest] > s.px(kMostUnderMm)) return *highest;
  const auto lowest = [&](int from, int to) { return *std::max_element(top.begin() + from, top.begin() + to + 1); };
  const auto [first, last] = std::minmax(*highest, *steel);
  const int between = lowest(first, last);
  const int beyond = *steel < *highest ? lowest(s.column(0.95), *steel) : lowest(*steel, s.column(1.45) - 1);
  return std::max(between, beyond) - top[*steel] > s.px(kLeastDipMm) ? *steel : *highest;
}

/// The line of a top's skyline, of which most should lie within `tolerance` of it. Shadows' rims that the flood stopped
/// at may stand over so much of the top that they turn a line through all of it: then another that clearly more of it
/// agrees on is the top's.
Result<LineFit> line_of_top(const std::vector<Point2>& points, double tolerance) {
  constexpr double kClearlyMore = 1.25;
  const FitOptions options{.loss = Loss::kTukey, .least_sigma = 0.5};
  const auto all = fit_line(points, options);
  const std::vector<Point2> agreeing = agreeing_points(points, tolerance);
  const auto near = std::ranges::count_if(
      points, [&](const Point2& p) { return all.ok() && std::abs(all->line.distance(p)) < tolerance; });
  if (static_cast<double>(agreeing.size()) < kClearlyMore * static_cast<double>(near)) return all;
  return fit_line(agreeing, options);
}

}  // namespace

std::optional<Landmarks> find_landmarks(const CutterScene& s, const std::vector<int>& top) {
  Landmarks m;
  const auto lowest = [&](int from, int to) {
    return static_cast<int>(std::max_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  const auto highest = [&](int from, int to) {
    return static_cast<int>(std::min_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  m.lumps = sawdust_on(s, top, s.column(0.7), s.column(1.7));
  m.gauge = gauge_column(s, top, m.lumps);
  m.gullet = lowest(s.column(0.1), m.gauge);
  const int peak = highest(s.column(-0.45), m.gullet);
  // Under the plate's own thickness (1.1 mm and more), so that a side plate seen where the bevel over it is lost in the
  // field does not count; a plate that falls by 6 degrees is followed for 9 mm.
  const int floor = top[peak] + static_cast<int>(s.px(1.0));
  std::vector<Point2> points;
  for (int x = s.column(-0.6); x < m.gullet; ++x) {
    if (top[x] < floor) points.emplace_back(x, top[x]);
  }
  if (points.size() < 20) return std::nullopt;
  constexpr double kRoughMm = 0.1;
  const auto fit = line_of_top(points, s.px(kRoughMm) + 1);
  if (!fit.ok() || std::abs(fit->line.direction.y()) > 0.35 * std::abs(fit->line.direction.x())) return std::nullopt;
  m.plate_line = fit->line;
  const auto follows = [&](int x) { return std::abs(top[x] - on_line(m.plate_line, x).y()) < s.px(0.12) + 2; };
  // Something may lie on the middle itself.
  const Point2 middle = *std::ranges::min_element(points, {}, [&](const Point2& p) {
    const double away = std::abs(p.x() - fit->line.point.x());
    return follows(static_cast<int>(p.x())) ? away : s.picture.cols + away;
  });
  // What stands over the line may lie on the top, which goes on behind it.
  const auto followed = [&](int step, int end) {
    constexpr double kGapMm = 0.6;
    constexpr double kCrumbMm = 1.5;  // sawdust of a sharp chain is shorter (from memory)
    int last = static_cast<int>(middle.x());
    int missed = 0;
    int covered = 0;
    for (int x = last; x != end && missed < s.px(kGapMm) && covered < s.px(kCrumbMm); x += step) {
      if (follows(x)) {
        last = x;
        missed = covered = 0;
      } else {
        ++(top[x] < on_line(m.plate_line, x).y() ? covered : missed);
      }
    }
    return last;
  };
  m.plate_from = followed(-1, s.column(-0.7));
  m.plate_to = followed(1, m.gullet);
  return m;
}

}  // namespace glintline
