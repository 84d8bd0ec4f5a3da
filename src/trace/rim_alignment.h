#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "model/camera_view.h"
#include "trace/head_alignment.h"

namespace glintline {

/// Brings a row of rivet heads, aligned roughly, into agreement by their rims, each direction by itself.
///
/// Whole pictures of heads agree where most of their light does: stains, rust and what lies beside a head pull them off
/// by a pixel or two. So the slopes along each radius, around the rim, are laid over the same radius of the other
/// heads' mean; what each direction says of the shift then votes for one shift, and directions that see something else
/// (Tukey's weights) are left out. The pictures are hardly smoothed: the rim's fine line is what is looked for.
/// u: from how much the directions disagree.
/// in: heads good to about 0.2 mm, in the plane at `height_mm`; `radius_mm` of them. The common shift is left where
/// they have it in the median.
/// out: heads of which too few directions agree are left where they were.
/// assumes: at least two heads of one kind.
[[nodiscard]] std::vector<AlignedHead> align_rims(const cv::Mat& bgr, const CameraView& view,
                                                  const std::vector<AlignedHead>& heads, double radius_mm,
                                                  double height_mm);

}  // namespace glintline
