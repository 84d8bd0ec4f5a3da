#pragma once

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
};

/// Points of a side, and how sharp the picture is there.
struct SideTrace {
  std::vector<Point2> points_px;  ///< sub-pixel, only where an outline stands out
  double blur_px = 0;             ///< blur of the sharper steps; 0 where there are too few
};

/// The outermost clear step of every profile: ground seen beside a plate lies lower, so its own steps are softer, and
/// the steps inside a rounded rim lie further in. Places come from the centre of gravity of the step's gradient.
[[nodiscard]] SideTrace trace_side(const cv::Mat& bgr, const SideSearch& search);

}  // namespace glintline
