#pragma once

#include <optional>
#include <string>
#include <vector>

#include "math/geometry.h"

namespace glintline {

/// A point of an outline, found to a fraction of a pixel.
struct EdgePoint {
  Point2 px = Point2::Zero();
  double u_px = 0;  ///< standard uncertainty square to the outline
};

/// From an outline's first place to its last, pixels; 0 where it has none.
[[nodiscard]] inline double length_px(const std::vector<EdgePoint>& outline) {
  return outline.empty() ? 0 : (outline.back().px - outline.front().px).norm();
}

/// The outline of a rivet head. Taken as a circle in a plane parallel to the card; in pixels only its centre counts.
struct RivetOutline {
  Point2 centre_px = Point2::Zero();
  std::vector<Point2> rim_px;  ///< points of the circle that was measured, to be drawn
  double u_px = 0;             ///< standard uncertainty of the centre, each coordinate
};

/// What tells whether a cutter is seen from its outer or its inner side.
struct FaceSigns {
  bool bevel = false;    ///< its bevel mirrors the field behind the top's outline: inner side
  double strap = 0;      ///< share of a tie strap's outline that shows across its body: inner side; 0 to 1
  double strap_ahead = 0;  ///< its upper edge goes on under the gauge, 0 to 1
  double under_gauge = 0;  ///< any edge parts the gauge's crown from the rivet head under it, 0 to 1
  double gauge_flank = 0;  ///< tangent by which the skyline rises to the gauge's crown from behind
  double gauge_crown_mm = 0;  ///< how far it stays up there: less than 0.2 mm under the crown
  double underside = 0;  ///< the top plate's underside shows: inner side; 0 to 1
  double recess =
      0;  ///< logarithm by which the body's middle is darker than its part next to the top; under 0: outer side
  double shoulder_mm = 0;  ///< how far the foremost point stands under the top: over 0.7 the corner is rounded
};

/// What one look at a cutter shows against the field.
struct CutterLines {
  std::vector<EdgePoint> top;    ///< top of the top plate, rear to front
  bool top_rim_told = false;     ///< its outline is that of a rim that mirrors the field, not where bare steel begins
  /// Where bare steel begins along the top, and the chance that this is its near rim, over which the top, which looks
  /// like the field, is seen; none and 0 where no top is seen, or its far rim was told.
  std::vector<EdgePoint> top_bare;
  double top_near_rim = 0;
  std::vector<EdgePoint> front;  ///< front of plate and side plate, from the top down
  std::vector<EdgePoint> rear;   ///< rear end of the top plate, from the top down
  /// Chance that this is its end's near rim, and a narrow strip of the end's face, which looks like the field, is seen
  /// beside it; 0 where no face is seen, or enough of it to tell its far rim.
  double rear_near_rim = 0;
  std::vector<EdgePoint> gauge;  ///< upper part of the depth gauge, rear to front
  /// Chance that this is its top's near rim, and the top, which looks like the field, is seen over it; 0 where no top
  /// is seen, or its far rim was told.
  double gauge_near_rim = 0;
  double blur_px = 0;        ///< standard deviation of the blur at these outlines
  double lost_front_mm = 0;  ///< how far the top goes on over what mirrors the field without a front that ends it

  /// Of the top's outline and where bare steel begins, what is likelier the rim that was seen.
  [[nodiscard]] const std::vector<EdgePoint>& likelier_top() const { return top_near_rim > 0.5 ? top_bare : top; }
};

/// A cutter that stands there, as its silhouette tells, but whose outline is not told from the field.
struct HiddenCutter {
  Point2 corner_px = Point2::Zero();  ///< about where its working corner must be
  std::string why;
};

/// One cutter's outlines in a photograph that looks at the chain from the side. "Up" is away from the bar, "front"
/// the running direction; both are told from the shape: a depth gauge runs ahead of its top plate.
struct CutterOutline : CutterLines {
  RivetOutline rear_rivet;
  RivetOutline front_rivet;
  bool outer_face_up = true;  ///< the side plate's outer face looks at the camera
  double chance_of_other_face = 0;  ///< that it does not: 0 to 0.5
  FaceSigns face;
  /// Where steel's own light begins along top and gauge, rear to front: on the outer side at their near rims.
  std::vector<EdgePoint> top_own_light;
  std::vector<EdgePoint> gauge_own_light;
  /// The same cutter looked at again, its picture sampled between the first look's samples. Where steel mirrors the
  /// field, what an outline is taken for hangs on small things; these tell by how much. Empty where a look showed none.
  std::vector<CutterLines> again;
  std::optional<HiddenCutter> hidden;  ///< nothing of it could be traced: it has no outlines
};

/// What a profile photograph shows of the chain, in upright pixels.
struct ProfileOutlines {
  std::vector<RivetOutline> rivets;    ///< in order along the chain, in its running direction
  std::vector<CutterOutline> cutters;  ///< over the field and whole, in running order; not all of them hidden
  bool goes_on_over_squares = false;   ///< the row of rivets reaches at least a cutter's length beyond the field
};

}  // namespace glintline
