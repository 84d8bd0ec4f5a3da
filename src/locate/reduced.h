#pragma once

#include <opencv2/core/mat.hpp>

namespace glintline {

/// Green channel averaged over blocks of factor x factor pixels (CV_8UC1), from factor 4 on over every other pixel of
/// every other row of them; incomplete blocks at the right and at the bottom are dropped.
[[nodiscard]] cv::Mat reduced_green(const cv::Mat& bgr, int factor);

/// Where in its block, from the block's first pixel, a reduced pixel's mean lies: pixel p of the reduced picture stands
/// for p * factor + block_centre(factor) of the full one.
[[nodiscard]] double block_centre(int factor);

}  // namespace glintline
