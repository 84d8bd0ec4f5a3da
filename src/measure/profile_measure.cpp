#include "measure/profile_measure.h"

#include <cmath>
#include <functional>
#include <optional>

#include "base/text.h"
#include "math/statistics.h"
#include "measure/cutter_geometry.h"
#include "measure/profile_heights.h"

namespace glintline {

namespace {

/// Edges of steel against a coloured field are found to about this share of the blur, whatever the noise: rims mirror
/// the field, cameras sharpen (by experiment: the accuracy tables of tests/accuracy).
constexpr double kEdgeBiasPx = 0.35;

/// All evaluations of one cutter: the usual one and one for every influence.
struct Evaluations {
  CutterGeometry usual;
  std::vector<std::pair<Source, CutterGeometry>> moved;
};

std::optional<Evaluations> evaluate(const CutterOutline& cutter, const CardPose& pose, const Setup& setup) {
  const HeightModel heights = profile_heights(setup, cutter.outer_face_up);
  const auto usual = cutter_geometry(pose.view, cutter, heights.usual);
  if (!usual) return std::nullopt;
  Evaluations all{*usual, {}};
  for (const ViewVariation& v : pose.variations) {
    if (const auto g = cutter_geometry(v.view, cutter, heights.usual)) all.moved.emplace_back(v.source, *g);
  }
  for (const HeightVariation& v : heights.variations) {
    if (const auto g = cutter_geometry(pose.view, cutter, v.heights)) all.moved.emplace_back(v.source, *g);
  }
  return all;
}

using Part = std::function<std::optional<double>(const CutterGeometry&)>;

/// A quantity with its budget: the influences' shares and `u_edge` from the outlines.
std::optional<Quantity> quantity(const Evaluations& all, const Part& part, double u_edge) {
  const auto value = part(all.usual);
  if (!value) return std::nullopt;
  Quantity q{*value, {{Source::kEdge, u_edge}}};
  for (const auto& [source, geometry] : all.moved) {
    if (const auto moved = part(geometry)) q.budget.push_back({source, std::abs(*moved - *value)});
  }
  return q;
}

CutterMeasurement measured(const CutterOutline& cutter, const CardPose& pose, const Setup& setup) {
  CutterMeasurement m;
  const HeightModel heights = profile_heights(setup, cutter.outer_face_up);
  const auto all = evaluate(cutter, pose, setup);
  if (!all) {
    m.missing.push_back("gauge drop, length: too little of the top plate or the depth gauge stands out against the field");
    return m;
  }
  const ChainFrame frame(pose.view, cutter, heights.usual);
  m.hand = cutter.outer_face_up == frame.sees_right_side() ? Hand::kRight : Hand::kLeft;
  const CutterGeometry& g = all->usual;
  const double px = pose.view.mm_per_px(cutter.gauge.front().px, heights.usual.gauge_outer);
  const double bias = kEdgeBiasPx * px;
  m.gauge_drop_mm = quantity(*all, [](const CutterGeometry& c) { return c.drop(); },
                             std::hypot(std::hypot(g.u_plate, g.u_gauge), bias));
  m.top_slope_rad = quantity(*all, [](const CutterGeometry& c) { return c.slope; }, g.u_slope);
  m.length_mm = quantity(*all,
                         [](const CutterGeometry& c) -> std::optional<double> {
                           if (!c.corner_x || !c.rear_x) return std::nullopt;
                           return *c.corner_x - *c.rear_x;
                         },
                         std::hypot(std::hypot(g.u_corner_x, g.u_rear_x), std::sqrt(2.0) * bias));
  m.hook_angle_rad = quantity(*all, [](const CutterGeometry& c) { return c.hook; }, g.u_hook);
  const Point2 corner(g.corner_x.value_or(g.plate_high_x), g.corner_z.value_or(g.plate_high));
  m.corner_px = frame.pixel(corner, heights.usual.plate_outer);
  return m;
}

}  // namespace

Measurements measure_profile(const ProfileOutlines& outlines, const CardPose& pose, const Setup& setup) {
  Measurements result;
  result.view = ViewKind::kProfile;
  for (const CutterOutline& cutter : outlines.cutters) result.cutters.push_back(measured(cutter, pose, setup));
  return result;
}

}  // namespace glintline
