#pragma once

#include <vector>

#include "trace/landmarks.h"

namespace glintline {

/// The top's line through what has been seen of it so far, with the fall of a usual plate (5 degrees, common practice:
/// 2 to 8) where that is too short to show its own.
[[nodiscard]] Line2 line_so_far(const CutterScene& s, const std::vector<Point2>& points, const Line2& coarse);

/// Follows the top's outline beyond the bare steel, along a bevel that mirrors the field and is told from it only by a
/// faint edge. There the outline either runs straight on or, where the camera sees past the plate's near end to the
/// edge that slants away from it, bends down by `bend` (a slope). Sightings are added to `points`; returns the last
/// column seen.
[[nodiscard]] int follow_bevel(const CutterScene& s, const Landmarks& m, double bend, std::vector<Point2>& points);

/// True where the body just under the top's line has the field's own colour over most of a stretch of columns.
[[nodiscard]] bool mirrors_field(const CutterScene& s, const Line2& top, int from, int to);

/// The front of a bevel that mirrors the field: in rows just under the top's outline, the first edge met from the
/// gullet's open field. Where in a good share of the rows light of another colour begins soon behind it, there the front
/// is, and the first edge was a shadow's.
[[nodiscard]] std::vector<Point2> bevel_front(const CutterScene& s, const Landmarks& m, const Line2& top, int from);

/// Share of the field's light, between half a millimetre ahead of a front and behind it, that is lost within a twelfth
/// of a millimetre of it: most of it at an edge, little at a shadow's. Median over the places.
[[nodiscard]] double falls_at_once(const CutterScene& s, const std::vector<Point2>& front);

}  // namespace glintline
