#include "measure/cutter_geometry.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/line_fit.h"
#include "math/robust.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Edge angle taken for where the top plate's edge runs; 25 to 35 degrees (TRADE: felling handbooks). It only decides
/// how much of the plate stands behind the outline near the corner.
constexpr double kEdgeAngleRad = 0.52;

/// Heights of the two rims that the top plate has at `behind` mm behind its working corner. On a rounded shoulder of
/// radius `shoulder` the flat top only begins that far inside the outer face.
std::pair<double, double> plate_rims(const ProfileHeights& h, double behind, double shoulder) {
  const double width = std::abs(h.plate_inner - h.plate_outer);
  const double there = std::clamp(behind / std::tan(kEdgeAngleRad), shoulder, width);
  const double inwards = h.plate_inner > h.plate_outer ? 1 : -1;
  return {h.plate_outer + inwards * shoulder, h.plate_outer + inwards * there};
}

/// Radius of the rounded shoulder between top plate and side plate: the working corner of a semi-chisel cutter stands
/// that far under its top plate, a chisel's within a few tenths of it.
double shoulder_of(const CutterGeometry& g) {
  constexpr double kLeastMm = 0.7;
  constexpr double kMostMm = 2.0;  // rounded corners: about 1 to 2 mm (from memory)
  if (!g.corner_x || !g.corner_z) return 0;
  const double under = g.plate_high - *g.corner_z;
  return under < kLeastMm ? 0 : std::min(under, kMostMm);
}

/// Lower of the two places a sight line meets the planes of two rims at: both rims stand equally high, and the one
/// that makes the outline hides the other.
Point2 lower(const ChainFrame& frame, const Point2& px, double rim, double other) {
  const Point2 a = frame.at(px, rim);
  const Point2 b = frame.at(px, other);
  return a.y() <= b.y() ? a : b;
}

/// Highest point of a smooth outline.
struct Highest {
  Point2 at = Point2::Zero();
  double u = 0;
};

/// Least squares polynomial of degree 4 through points the residuals' MAD does not reject; its highest point inside.
/// A gauge's crown, round or filed flat, is smooth over the half millimetre under its top that is traced.
std::optional<Highest> highest(const std::vector<Point2>& points) {
  constexpr int kTerms = 5;
  double from = points.front().x();
  double to = from;
  for (const Point2& p : points) {
    from = std::min(from, p.x());
    to = std::max(to, p.x());
  }
  const double middle = 0.5 * (from + to);
  const double half = std::max(1e-6, 0.5 * (to - from));
  const auto row = [&](double x) {
    Eigen::Matrix<double, kTerms, 1> r;
    const double t = (x - middle) / half;
    for (int k = 0; k < kTerms; ++k) r[k] = std::pow(t, k);
    return r;
  };
  std::vector<double> weights(points.size(), 1.0);
  Eigen::Matrix<double, kTerms, 1> c;
  Eigen::Matrix<double, kTerms, kTerms> inverse;
  double sigma = 0;
  for (int round = 0; round < 8; ++round) {
    Eigen::Matrix<double, kTerms, kTerms> normal = Eigen::Matrix<double, kTerms, kTerms>::Identity() * 1e-9;
    Eigen::Matrix<double, kTerms, 1> right = Eigen::Matrix<double, kTerms, 1>::Zero();
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto r = row(points[i].x());
      normal += weights[i] * r * r.transpose();
      right += weights[i] * points[i].y() * r;
    }
    inverse = normal.inverse();
    c = inverse * right;
    std::vector<double> residuals;
    for (const Point2& p : points) residuals.push_back(p.y() - c.dot(row(p.x())));
    sigma = std::max(0.002, residual_scale(residuals, kTerms));
    for (std::size_t i = 0; i < points.size(); ++i) weights[i] = robust_weight(round < 2 ? Loss::kHuber : Loss::kTukey, residuals[i] / sigma);
  }
  std::optional<Highest> best;
  for (double x = from + 0.1 * half; x <= to - 0.1 * half; x += 0.01) {
    const auto r = row(x);
    const double z = c.dot(r);
    // Neighbouring crossings share the picture's grain; two of them count as one.
    if (!best || z > best->at.y()) best = Highest{{x, z}, sigma * std::sqrt(2 * r.dot(inverse * r))};
  }
  return best;
}

std::vector<Point2> in_frame(const ChainFrame& frame, const std::vector<EdgePoint>& edge, double height) {
  std::vector<Point2> points;
  points.reserve(edge.size());
  for (const EdgePoint& e : edge) points.push_back(frame.at(e.px, height));
  return points;
}

/// x at which the front outline stands at height z, as the median of the points within a tenth of a millimetre.
std::optional<double> front_at(const std::vector<Point2>& front, double z) {
  std::vector<double> near;
  for (const Point2& p : front) {
    if (std::abs(p.y() - z) < 0.1) near.push_back(p.x());
  }
  if (near.size() < 2) return std::nullopt;
  return median(near);
}

/// A corner and the standard uncertainty of its x.
struct Corner {
  Point2 at = Point2::Zero();
  double u = 0;
};

/// The working corner: the first place, from the top down, where the outline stands foremost before it runs back under
/// the edge (means of three crossings, as a single one is noisy). Where it runs forward into the gullet without an
/// undercut, the corner is a rounded one, 1 to 2 mm under the top (from memory), and is only known to lie there.
std::optional<Corner> corner_of(const std::vector<Point2>& front, double top_z) {
  constexpr double kUndercutMm = 0.08;
  std::optional<Point2> foremost;
  for (std::size_t i = 1; i + 1 < front.size(); ++i) {
    const Point2 mean = (front[i - 1] + front[i] + front[i + 1]) / 3;
    if (!foremost || mean.x() > foremost->x()) foremost = mean;
    if (mean.x() < foremost->x() - kUndercutMm) return Corner{*foremost, 0.01};
  }
  const auto x = front_at(front, top_z - 1.5);
  const auto upper = front_at(front, top_z - 1.1);
  const auto lower = front_at(front, top_z - 1.9);
  if (x && upper && lower) return Corner{{*x, top_z - 1.5}, 0.01 + std::abs(*lower - *upper) / std::sqrt(12.0)};
  if (foremost) return Corner{*foremost, 0.03};
  return std::nullopt;
}

void find_front(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  const std::vector<Point2> front = in_frame(frame, cutter.front, h.plate_outer);
  if (front.size() < 5) return;
  const auto corner = corner_of(front, g.plate_high);
  if (!corner) return;
  g.corner_x = corner->at.x();
  g.corner_z = corner->at.y();
  // A rounded corner's front is nearly upright over a millimetre: where on it the corner lies moves its x.
  constexpr double kRoundedCornerMm = 0.12;
  g.u_corner_x = g.plate_high - *g.corner_z > 0.7 ? std::hypot(corner->u, kRoundedCornerMm) : corner->u;
  const auto high = front_at(front, *g.corner_z - 0.2);
  const auto low = front_at(front, *g.corner_z - 1.0);
  if (high && low && cutter.outer_face_up) {
    // A front that hardly runs back is a broken one, or the gullet's ground: no chord of a hook.
    constexpr double kLeastUndercutMm = 0.15;
    if (*high - *low > kLeastUndercutMm) g.hook = std::atan2(0.8, *high - *low);
    // Each end of the chord is a median of a few crossings on a curved, often rough front.
    constexpr double kEndMm = 0.02;
    if (g.hook) g.u_hook = std::sqrt(2.0) * kEndMm * std::sin(*g.hook) / 0.8;
  }
}

void find_rear(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  std::vector<double> ends;
  for (const EdgePoint& e : cutter.rear) {
    ends.push_back(std::max(frame.at(e.px, h.plate_outer).x(), frame.at(e.px, h.plate_inner).x()));
  }
  if (ends.size() < 5) return;
  g.rear_x = median(ends);
  // The end is rounded and rough, and its crossings share that: their scatter does not average away.
  g.u_rear_x = std::max(0.02, 0.7 * mad_sigma(ends));
}

/// Line of the top plate; its highest point is taken where the outline leaves it in front.
bool find_plate(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& heights,
                double shoulder) {
  const double corner = g.corner_x.value_or(frame.at(cutter.top.back().px, heights.plate_outer).x());
  std::vector<Point2> top;
  for (const EdgePoint& e : cutter.top) {
    const double behind = corner - frame.at(e.px, heights.plate_outer).x();
    const auto [outer, inner] = plate_rims(heights, behind, shoulder);
    top.push_back(lower(frame, e.px, outer, inner));
  }
  const auto line = fit_line(top, {.loss = Loss::kTukey, .least_sigma = 0.003, .ordered = true});
  if (!line.ok()) return false;
  double foremost = -1e9;
  for (std::size_t i = 0; i < top.size(); ++i) {
    if (line->weights[i] > 0.3) foremost = std::max(foremost, top[i].x());
  }
  const double rise = line->line.direction.y() / line->line.direction.x();
  // A bevel that mirrors the field hides the outline's last stretch, not the corner itself.
  if (cutter.face.bevel && g.corner_x) foremost = std::max(foremost, *g.corner_x);
  g.plate_high_x = foremost;
  g.plate_high = line->line.point.y() + (foremost - line->line.point.x()) * rise;
  g.slope = std::atan(rise);
  g.u_plate = line->u_at({g.plate_high_x, g.plate_high});
  g.u_slope = line->u_angle_rad();
  return true;
}

/// Flanks and tip of the outline at the working corner: the top's line against a line through the front from 0.15 to
/// 0.6 mm under it, outside the rounding.
void find_tip(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  if (!cutter.outer_face_up || !g.corner_z || g.plate_high - *g.corner_z > 0.3) return;
  std::vector<Point2> flank;
  std::vector<Point2> all = in_frame(frame, cutter.front, h.plate_outer);
  for (const Point2& p : all) {
    const double under = g.plate_high - p.y();
    if (under > 0.15 && under < 0.6) flank.push_back(p);
  }
  const auto front = fit_line(flank, {.loss = Loss::kTukey, .least_sigma = 0.003, .ordered = true});
  if (!front.ok()) return;
  const Point2 back(-std::cos(g.slope), -std::sin(g.slope));
  Point2 down = front->line.direction;
  if (down.y() > 0) down = -down;
  const Point2 on_top(g.plate_high_x, g.plate_high);
  const double cross = back.x() * down.y() - back.y() * down.x();
  if (std::abs(cross) < 0.2) return;
  const Point2 between = front->line.point - on_top;
  const Point2 meeting = on_top + back * ((between.x() * down.y() - between.y() * down.x()) / cross);
  const Point2 bisector = (back + down).normalized();
  for (const EdgePoint& e : cutter.top) all.push_back(frame.at(e.px, h.plate_outer));
  // The outline's points that lie within a twentieth of a millimetre of the bisector, taken along it.
  std::vector<double> along;
  for (const Point2& p : all) {
    const Point2 d = p - meeting;
    const double aside = std::abs(d.x() * bisector.y() - d.y() * bisector.x());
    if (aside < 0.05 && std::abs(d.dot(bisector)) < 0.6) along.push_back(d.dot(bisector));
  }
  if (along.empty()) return;
  CornerShape tip;
  tip.wedge_rad = std::acos(std::clamp(back.dot(down), -1.0, 1.0));
  tip.recession = median(along);
  tip.u_recession = std::hypot(front->u_at(meeting), g.u_plate) / std::sin(tip.wedge_rad / 2);
  g.tip = tip;
}

}  // namespace

ChainFrame::ChainFrame(const CameraView& view, const CutterOutline& cutter, const ProfileHeights& heights)
    : view_(view), origin_(view.at_height(cutter.rear_rivet.centre_px, heights.rivets)) {
  const Point2 along = view.at_height(cutter.front_rivet.centre_px, heights.rivets) - origin_;
  rivet_distance_ = along.norm();
  along_ = along / rivet_distance_;
  up_ = turned_quarter(along_);
  const Point2 top = cutter.top.empty() ? cutter.gauge.front().px : cutter.top.front().px;
  if ((view.at_height(top, heights.plate_outer) - origin_).dot(up_) < 0) up_ = -up_;
}

Point2 ChainFrame::at(const Point2& px, double height_mm) const {
  const Point2 d = view_.at_height(px, height_mm) - origin_;
  return {d.dot(along_), d.dot(up_)};
}

Point2 ChainFrame::pixel(const Point2& x_z, double height_mm) const {
  const Point2 p = origin_ + x_z.x() * along_ + x_z.y() * up_;
  return view_.pixel({p.x(), p.y(), -height_mm});
}

std::optional<CutterGeometry> cutter_geometry(const CameraView& view, const CutterOutline& cutter,
                                              const ProfileHeights& heights) {
  if (cutter.top.size() < 8 || cutter.gauge.size() < 8) return std::nullopt;
  const ChainFrame frame(view, cutter, heights);
  CutterGeometry g;
  g.rivet_distance = frame.rivet_distance();
  // Heads of one chain are alike to about this much, whatever the alignment's own noise (by experiment: tests/accuracy).
  constexpr double kHeadMm = 0.015;
  const double px = view.mm_per_px(cutter.rear_rivet.centre_px, heights.rivets);
  g.u_rivet_line = std::hypot(std::max(kHeadMm, cutter.rear_rivet.u_px * px),
                              std::max(kHeadMm, cutter.front_rivet.u_px * px)) / g.rivet_distance;
  find_rear(g, frame, cutter, heights);
  // The plate's rims depend on where the corner is, the corner's place on the plate's height: two rounds settle both.
  if (!find_plate(g, frame, cutter, heights, 0)) return std::nullopt;
  find_front(g, frame, cutter, heights);
  if (!find_plate(g, frame, cutter, heights, 0)) return std::nullopt;
  if (heights.shoulder_by_shape) {
    const double shoulder = shoulder_of(g) * (1 + heights.shoulder);
    if (shoulder > 0 && !find_plate(g, frame, cutter, heights, shoulder)) return std::nullopt;
  }

  find_tip(g, frame, cutter, heights);
  std::vector<Point2> gauge;
  for (const EdgePoint& e : cutter.gauge) gauge.push_back(lower(frame, e.px, heights.gauge_outer, heights.gauge_inner));
  const auto top_of_gauge = highest(gauge);
  if (!top_of_gauge) return std::nullopt;
  g.gauge_high = top_of_gauge->at.y();
  g.gauge_high_x = top_of_gauge->at.x();
  g.u_gauge = top_of_gauge->u;
  return g;
}

}  // namespace glintline
