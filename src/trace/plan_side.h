#pragma once

#include <limits>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "math/geometry.h"

namespace glintline {

/// Where a straight side of a plate is looked for: from `from` to `to` (pixels), `outward` the unit normal that leads
/// away from the plate, within `reach_px` to either side.
struct SideSearch {
  Point2 from = Point2::Zero();
  Point2 to = Point2::Zero();
  Point2 outward = Point2::UnitX();
  double reach_px = 0;
  double clear_share = 0.5;  ///< a stacked crest counts from this share of the strongest
  bool rounded_rim = false;  ///< a weak second step beyond the strongest is the rim's outline
  /// Linear light from which the flat mirrors a lamp. The mirror image ends where the flat does; the rim is rounded and
  /// its outline, mostly the weaker step, lies up to `rim_px` further out.
  double flash = std::numeric_limits<double>::infinity();
  double rim_px = 0;
};

/// Points of a straight side.
struct SideTrace {
  std::vector<Point2> points_px;  ///< sub-pixel, only where an outline stands out
  double half_range_px = 0;       ///< the outline lies within so much to either side of the points, square to the side
  bool rim_seen = false;          ///< the points are the rim's outline, told from the end of its flat
};

/// The outermost line along which the picture changes: profiles square to the side are stacked under all small tilts,
/// so that grain and scratches average out; steps inside a rounded rim lie further in, those of lower parts are softer
/// or not parallel. Points are the centres of gravity of the change near that line.
[[nodiscard]] SideTrace trace_side(const cv::Mat& bgr, const SideSearch& search);

}  // namespace glintline
