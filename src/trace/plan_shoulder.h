#pragma once

#include <opencv2/core/mat.hpp>

#include "math/geometry.h"

namespace glintline {

/// A plate's outer side in the picture.
struct OuterSide {
  Point2 rear = Point2::Zero();  ///< its ends, pixels
  Point2 front = Point2::Zero();
  Point2 inwards = Point2::UnitX();  ///< unit normal that leads over the plate
  double px_per_mm = 1;
};

/// How much the light changes across the strip beside a plate's outer side in which a rounded corner bends, natural
/// logarithm. There plate and side plate join by a bend of 1 to 2 mm radius (TRADE.md), whose turning normals mirror
/// one part of the room after the other; a chisel's flat goes on to 0.4 mm from the side. Uneven light on a flat
/// changes less over such a way.
///
/// Medians along the middle of the side, so that dirt, marks and the edge do not count, at four distances from it; the
/// sum of the changes over 0.4 mm.
/// out: 0 where the picture does not hold the strip.
[[nodiscard]] double shoulder_change(const cv::Mat& bgr, const OuterSide& side);

/// Width of the side plate's outer face, mm, where a camera that leans sees it beside the top and the side was taken at
/// its lower end: a strip of even light within the side that ends in a sharp step, farther in than a chisel's rounding
/// reaches (0.3 mm, TRADE.md), and even light behind that.
///
/// Medians along the middle of the side, as above. out: 0 where there is no such strip.
[[nodiscard]] double side_face_width(const cv::Mat& bgr, const OuterSide& side);

}  // namespace glintline
