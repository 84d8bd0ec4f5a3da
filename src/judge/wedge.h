#pragma once

#include <optional>
#include <string>

#include "model/limits.h"
#include "model/measurement.h"

namespace glintline {

/// The cutting edge as filing meets it, in the plane square to the edge: flat top and bevel enclose the wedge angle b,
/// a rounding of radius r touches both. All lengths run along the top, from the outline (the foremost point) backwards:
///
///   the flat begins            r                        behind the outline: so far the bevel must go for a sharp edge
///   the lost tip would stand   r (cot(b/2) - 1)         before the outline: metal the file takes off all the same,
///                                                       though the cutter does not get shorter by it
///   a chip of depth d          d + r                    its floor is taken to be as rounded as the edge beside it
///
/// Square to the edge becomes along the chain by 1 / cos(edge angle). The new bevel is taken to be parallel to the old.
/// assumes: b < 90 degrees, so that the rounding's foremost point lies on the arc.

/// Wedge angle at the edge, rad. A round file of which a fifth stands over the top plate cuts acos(1 - 2/5) = 53
/// degrees (arithmetic; a fifth: Lower Austria Chamber of Agriculture; a tenth, 37 degrees, is the least MSA names); a
/// felling handbook names 60.
[[nodiscard]] Quantity wedge_angle_rad();

/// Angle between top and bevel where a round file stands `share` of its diameter over a level top plate.
[[nodiscard]] double wedge_of_file_rad(double share);

/// How far the lost tip of a wedge rounded with radius r would stand before the outline; unit of r.
[[nodiscard]] double lost_tip(double radius, double wedge_rad);

/// The rounding to reckon with in um: the 90th percentile where known, else the median, else half of what would have
/// gone unseen (uniform from nothing to there). Nothing where the edge was not seen at all.
[[nodiscard]] std::optional<Quantity> working_radius_um(const CutterMeasurement& cutter);

/// What filing must take off at the least, along the chain, behind the line of the undamaged outline.
struct EdgeNeed {
  Quantity back_mm;
  std::string reason;         ///< "a chip", "the rounding", "the edge angle"
  bool proven = true;         ///< false: a chip too close to its limit to call decides
  Quantity lost_tip_mm;       ///< along the chain
  double flat_behind_mm = 0;  ///< where the flat top begins behind the outline, along the chain
};

/// Nothing where neither rounding nor chips were looked for. Chips that are proven harmless are not reckoned with.
/// An edge angle proven outside its limits is filed to the filing angle: the corner goes back by
/// w (tan(now) - tan(filing angle)) where it is too steep; a too flat one is paid for by the inner end.
/// in: w, top plate's width, mm, where the sheet knows it.
[[nodiscard]] std::optional<EdgeNeed> edge_need(const CutterMeasurement& cutter, const Limits& limits,
                                                std::optional<double> plate_width_mm = std::nullopt);

/// 1 / cos(edge angle), as measured, else as filed (30 degrees where nothing is known), with its uncertainty.
[[nodiscard]] Quantity along_per_square(const CutterMeasurement& cutter, const Limits& limits);

}  // namespace glintline
