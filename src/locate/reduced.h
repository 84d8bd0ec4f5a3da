#pragma once

#include <opencv2/core/mat.hpp>

namespace glintline {

/// Green channel averaged over blocks of factor x factor pixels (CV_8UC1), over every other row of each block from
/// factor 4 on; incomplete blocks at the right and at the bottom are dropped. Pixel p of the reduced picture has its centre at (p + 0.5) * factor - 0.5 of the full one.
[[nodiscard]] cv::Mat reduced_green(const cv::Mat& bgr, int factor);

}  // namespace glintline
