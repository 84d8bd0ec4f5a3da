#include "trace/cutter_face.h"

#include <cmath>
#include <functional>

#include "math/linear_light.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Luma of the square-on picture, nearest pixel.
double luma_at(const CutterScene& s, const Point2& at) {
  const int x = std::clamp(cvRound(at.x()), 0, s.picture.cols - 1);
  const int y = std::clamp(cvRound(at.y()), 0, s.picture.rows - 1);
  const auto& c = s.picture.at<cv::Vec3b>(y, x);
  return luma(c[0], c[1], c[2]);
}

/// The same, linear light.
double luma_light_at(const CutterScene& s, const Point2& at) { return linear_of(luma_at(s, at)); }

/// How much a curve (y of every column) looks like an edge of a part, 0 to 1: sharp, i.e. the share of the change
/// within half a millimetre that falls within an eighth of one; alike in most columns; and strong against the
/// brightness around it (`strong` is the share of it that counts as full). With `step_only` a line, beyond which the
/// brightness comes back, counts for nothing: highlights are such.
double edge_along(const CutterScene& s, int from, int to, const std::function<double(int)>& curve, double strong,
                  bool step_only = false) {
  const double close = s.px(0.06);
  const double wide = s.px(0.25);
  const int stride = std::max(1, (to - from) / 120);
  std::vector<Point2> places;
  std::vector<double> near, level;
  for (int x = from; x <= to; x += stride) {
    const Point2 at(x, curve(x));
    if (at.y() + wide >= s.picture.rows || at.y() - wide < 0) continue;
    const double above = luma_at(s, at - Point2(0, close));
    const double below = luma_at(s, at + Point2(0, close));
    places.push_back(at);
    near.push_back(below - above);
    level.push_back(std::max(above, below));
  }
  if (near.size() < 8) return 0;
  const double step = median(near);
  constexpr double kLeastStep = 6;  // codes: the grain's own median over some dozen columns
  if (std::abs(step) < kLeastStep) return 0;
  // As bright as a picture can show is a lamp's image, which may end anywhere on a part.
  constexpr double kLamp = 240;  // of 255: blurred, or off the picture's middle
  const double usual = median(level);
  if (usual > kLamp) return 0;
  std::vector<double> far;
  for (const Point2& at : places)
    far.push_back(luma_at(s, at + Point2(0, wide)) - luma_at(s, at - Point2(0, wide)));
  const double farther = median(far);
  constexpr double kStays = 3;  // over a third of the step still there a quarter of a millimetre off
  const double stays = step_only ? std::clamp(kStays * farther / step, 0.0, 1.0) : 1;
  const double sharp = stays * std::abs(step) / std::max(std::abs(step), std::abs(farther));
  const auto alike = std::count_if(near.begin(), near.end(), [&](double n) { return n * step > 0.4 * step * step; });
  const double strength = std::min(1.0, std::abs(step) / (strong * usual));
  return sharp * strength * static_cast<double>(alike) / static_cast<double>(near.size());
}

}  // namespace

double underside_edge(const CutterScene& s, const PlateStretch& plate, double top_mm) {
  constexpr double kThinnestMm = 0.9;
  constexpr double kThickestMm = 2.05;
  constexpr double kClearOfRimMm = 0.2;
  double best = 0;
  for (double depth = s.px(std::max(kThinnestMm, top_mm + kClearOfRimMm)); depth < s.px(top_mm + kThickestMm);
       depth += std::max(1.0, s.px(0.03))) {
    best = std::max(best, edge_along(s, plate.from, plate.to,
                                     [&](int x) { return on_line(plate.top, x).y() + depth; }, 0.4, true));
  }
  return best;
}

double recess_under(const CutterScene& s, const PlateStretch& plate, double top_mm) {
  // The plate's near end is 0.9 mm high and more; straps end under a third of a pitch over the rivets, mostly.
  constexpr double kEndFromMm = 0.25;
  constexpr double kEndToMm = 0.8;
  constexpr double kMiddleFromMm = 2.1;
  constexpr double kLeastMiddleMm = 0.3;
  constexpr double kOverStraps = 0.36;
  const auto light = [&](const std::function<double(int)>& from, const std::function<double(int)>& to) {
    std::vector<double> all;
    for (int x = plate.from; x <= plate.to; x += 2) {
      for (double y = from(x); y <= to(x); y += 2) all.push_back(luma_light_at(s, {static_cast<double>(x), y}));
    }
    return all.empty() ? 0 : median(std::move(all));
  };
  const auto under = [&](double mm) {
    return [&, mm](int x) { return on_line(plate.top, x).y() + s.px(top_mm + mm); };
  };
  const auto over_straps = [&](int x) {
    return std::max(s.rear_rivet.y() - kOverStraps * s.pitch_px, under(kMiddleFromMm + kLeastMiddleMm)(x));
  };
  constexpr double kDarkest = 1e-3;
  return std::log((light(under(kEndFromMm), under(kEndToMm)) + kDarkest) /
                  (light(under(kMiddleFromMm), over_straps) + kDarkest));
}

double edge_ahead(const CutterScene& s, const StrapOutline& strap) {
  constexpr double kStrong = 0.3;
  const auto curve = [&](int x) {
    return s.rear_rivet.y() - strap.upper_edge((x - s.rear_rivet.x()) / s.pitch_px) * s.pitch_px;
  };
  return std::max(edge_along(s, s.column(0.6), s.column(0.95), curve, kStrong),
                  edge_along(s, s.column(0.95), s.column(1.25), curve, kStrong));
}

double edge_under(const CutterScene& s, const Point2& crown) {
  // Over most of the rivet head, whose rim is an edge too, and clear of the crown's own.
  constexpr double kHeadPitches = 0.24;
  constexpr double kUnderCrownMm = 0.25;
  constexpr double kHalfPitches = 0.06;
  constexpr double kMostSlope = 0.4;
  const int from = std::max(0, static_cast<int>(crown.x() - kHalfPitches * s.pitch_px));
  const int to = std::min(s.picture.cols - 1, static_cast<int>(crown.x() + kHalfPitches * s.pitch_px));
  double best = 0;
  const double last = s.rear_rivet.y() - kHeadPitches * s.pitch_px;
  for (double y = crown.y() + s.px(kUnderCrownMm); y < last; y += std::max(1.0, s.px(0.04))) {
    for (double slope = -kMostSlope; slope < kMostSlope + 0.01; slope += 0.1)
      best = std::max(best, edge_along(
                                s, from, to, [&](int x) { return y + slope * (x - crown.x()); }, 0.3));
  }
  return best;
}

double flank_slope(const CutterScene& s, const std::vector<int>& top, int gullet, int gauge) {
  constexpr double kFromMm = 0.2;  // a crown is rounded
  constexpr double kToMm = 0.6;
  const auto falls_by = [&](double mm) {
    int x = gauge;
    while (x > gullet && top[x] - top[gauge] < s.px(mm)) --x;
    return x;
  };
  const int upper = falls_by(kFromMm);
  const int lower = falls_by(kToMm);
  if (lower <= gullet) return 0;
  return s.px(kToMm - kFromMm) / std::max(1, upper - lower);
}

}  // namespace glintline
