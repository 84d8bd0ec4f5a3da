#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "math/geometry.h"
#include "model/camera_view.h"

namespace glintline {

/// A head's centre after alignment.
struct AlignedHead {
  Point2 centre_mm = Point2::Zero();  ///< board frame, in the heads' plane
  double u_mm = 0;                    ///< standard uncertainty against the other heads, each coordinate
  double likeness = 0;                ///< correlation with the common head, 0 to 1
};

/// What all shifts have in common: their median, in each coordinate.
[[nodiscard]] Point2 common_shift(const std::vector<Point2>& shifts);

/// Brings the centres of a row of rivet heads into agreement with each other.
///
/// The outline of a single head is easily mistaken where its highlight ends; but the heads of one chain are alike and
/// lit alike. Their edge pictures (root of the gradient's magnitude) are averaged into a common head, to which every
/// head is then shifted for the greatest normalised correlation, to a fraction of a pixel by a parabola, three times
/// over. Dirt and rust differ from head to head and average out. The common shift is left where the given centres have
/// it in the median.
/// u: from the residual's variance and the common head's slopes, the smoothing's correlation length counted in.
/// in: centres good to about 0.3 mm, in the plane at `height_mm`; `radius_mm` of the heads.
/// assumes: at least two heads; with two of them, each is aligned to the other.
[[nodiscard]] std::vector<AlignedHead> align_heads(const cv::Mat& bgr, const CameraView& view,
                                                   const std::vector<Point2>& centres_mm, double radius_mm,
                                                   double height_mm);

}  // namespace glintline
