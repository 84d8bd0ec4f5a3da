#include "trace/plan_sight.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

constexpr double kDegree = M_PI / 180;
/// Ground steel spreads a reflection over several degrees of normal (by experience): a dim flat gives way to the strip
/// within about 4 degrees, one that mirrors a lamp keeps flashing for about 10.
constexpr double kDimStart = 4 * kDegree;
constexpr double kFlashStart = 10 * kDegree;

/// Way ahead, along the card, from the edge to the end of the field.
double way_to_rim(const BoardBox& field, const Point2& from, const Point2& direction) {
  double way = 1e3;
  for (int k = 0; k < 2; ++k) {
    if (std::abs(direction[k]) < 1e-6) continue;
    const double rim = direction[k] > 0 ? field.max[k] : field.min[k];
    way = std::min(way, (rim - from[k]) / direction[k]);
  }
  return std::max(1.0, way);
}

}  // namespace

Lean lean_of(const CardPose& pose, const EdgeInSpace& edge) {
  const Point3 up(0, 0, -1);
  const Point3 level(edge.ahead.x(), edge.ahead.y(), 0);
  const Point3 forward = std::cos(edge.slope_rad) * level + std::sin(edge.slope_rad) * up;
  const Point2 run = edge.inner_mm - edge.corner_mm;
  // The edge lies in the sloping plane: what it goes back along the chain it goes back along the slope.
  const double back = run.dot(edge.ahead);
  const Point2 aside = run - back * edge.ahead;
  const Point3 along = (Point3(aside.x(), aside.y(), 0) + back / std::cos(edge.slope_rad) * forward).normalized();
  Point3 normal = forward.cross(along).normalized();
  if (normal.dot(up) < 0) normal = -normal;
  Point3 out = along.cross(normal);
  if (out.dot(level) < 0) out = -out;
  const Point2 middle = (edge.corner_mm + edge.inner_mm) / 2;
  const Point3 sight = pose.view.eye() - Point3(middle.x(), middle.y(), -edge.height_mm);
  Lean lean;
  lean.plate_rad = std::atan2(sight.dot(out), sight.dot(normal));
  lean.vertical_rad = lean.plate_rad - std::atan2(up.dot(out), up.dot(normal));
  return lean;
}

StripModel strip_model(const CardPose& pose, const EdgeInSpace& edge, bool flat_flashes) {
  const Lean lean = lean_of(pose, edge);
  Point2 out = turned_quarter((edge.inner_mm - edge.corner_mm).normalized());
  if (out.dot(edge.ahead) < 0) out = -out;
  const double dip = std::atan2(edge.height_mm, way_to_rim(pose.field(), (edge.corner_mm + edge.inner_mm) / 2, out));
  StripModel model;
  model.lean_rad = lean.plate_rad;
  // Mirrored sight line: 2 phi + vertical lean from the vertical; between the horizon and the dip of the field's end
  // lie the card's rim and the bench, so the middle is taken.
  model.horizon_rad = 45 * kDegree + (dip / 2 - lean.vertical_rad) / 2;
  model.start_rad = -lean.plate_rad + (flat_flashes ? kFlashStart : kDimStart);
  model.flat_flashes = flat_flashes;
  return model;
}

}  // namespace glintline
