#pragma once

#include <opencv2/core/mat.hpp>
#include <vector>

#include "model/card_pose.h"

namespace glintline {

/// The tags with their corners, so far found on a reduced picture, taken again at full resolution: where the gradients
/// of both sides meet (opencv's cornerSubPix, in a window that stays within the tag's black border and its margin),
/// then moved outwards by what the blur draws a black corner in, kInwardPerBlur of its standard deviation along each
/// side. In: blur_px, standard deviation. A tag too small for such a window keeps its coarse corners.
[[nodiscard]] std::vector<NumberTag> refined_tags(const cv::Mat& bgr, std::vector<NumberTag> tags, double blur_px);

}  // namespace glintline
