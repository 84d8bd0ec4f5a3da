#pragma once

#include "trace/cutter_scene.h"
#include "trace/strap_outline.h"

namespace glintline {

/// Columns of the top plate that are seen over its whole width, and its top's line.
struct PlateStretch {
  Line2 top;
  int from = 0;
  int to = 0;
};

/// How clearly the underside of the top plate shows, 0 to 1: an edge parallel to its top, one plate's thickness under
/// it (0.9 to 2 mm). A cutter seen from its inner side shows it, with the shadow under it; seen from outside, the plate
/// passes over into the side plate by a bend, whose shading is soft. `top_mm`: as much of the top itself may be seen
/// under its outline, where the camera looks down on it; its near rim, an edge from either side, lies within that.
[[nodiscard]] double underside_edge(const CutterScene& s, const PlateStretch& plate, double top_mm);

/// Natural logarithm by which the body's middle is darker than the part right under the top plate's outline. From the
/// inner side the plate's near end is seen there, and its side plate two straps' thickness deeper, in its shade; from
/// outside it is one surface, which turns away from the light towards the top. `top_mm` as above.
[[nodiscard]] double recess_under(const CutterScene& s, const PlateStretch& plate, double top_mm);

/// How clearly a strap's upper edge goes on ahead of the gullet, 0 to 1.
[[nodiscard]] double edge_ahead(const CutterScene& s, const StrapOutline& strap);

/// How clearly any straight edge crosses the body between a gauge's crown and the rivet head under it, 0 to 1: from the
/// inner side a gauge stands behind its strap and ends at the strap's edge.
[[nodiscard]] double edge_under(const CutterScene& s, const Point2& crown);

/// Tangent by which a skyline (topmost row of every column) rises from behind to the gauge's crown, column `gauge`:
/// from 0.6 mm under it to 0.2. 0 where it does not come down so far after column `gullet`. A gauge stands up steeply
/// from whatever strap lies before it; a strap that rises as a bumper does so by 30 to 45 degrees (common practice, no
/// source).
[[nodiscard]] double flank_slope(const CutterScene& s, const std::vector<int>& top, int gullet, int gauge);

}  // namespace glintline
