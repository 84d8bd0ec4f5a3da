#pragma once

#include "model/card_pose.h"
#include "model/plan_outlines.h"

namespace glintline {

/// What the sight line at a cutting edge makes of its rounding. Usual values where trace knows no better: measure
/// works with the set-up's and corrects for the difference.
inline constexpr double kUsualHeightMm = 2.5;  ///< top plates over the card: 1.5 to 3.5 mm proud
inline constexpr double kUsualSlopeRad = 5 * 3.14159265358979323846 / 180;  ///< fall of the top plate to its rear

/// Directions of an edge in the board frame at the working height.
struct EdgeInSpace {
  Point2 corner_mm = Point2::Zero();
  Point2 inner_mm = Point2::Zero();
  Point2 ahead = Point2::UnitX();  ///< unit, running direction
  double height_mm = kUsualHeightMm;
  double slope_rad = kUsualSlopeRad;
};

/// Sight line against the plate's normal, and against the vertical, in the plane square to the edge; positive when the
/// camera sees further round the edge.
struct Lean {
  double plate_rad = 0;
  double vertical_rad = 0;
};
[[nodiscard]] Lean lean_of(const CardPose& pose, const EdgeInSpace& edge);

/// The strip's model: the normal beyond which it mirrors what lies below lies where the mirrored sight line dips to the
/// horizon or a little under it, as far as the field ahead reaches up. A flat that flashes keeps the strip's beginning
/// bright for longer.
[[nodiscard]] StripModel strip_model(const CardPose& pose, const EdgeInSpace& edge, bool flat_flashes);

}  // namespace glintline
