#pragma once

#include <opencv2/core/mat.hpp>

namespace glintline {

/// A picture reduced by a whole factor: every pixel is the mean of its block of factor x factor pixels (CV_8UC3),
/// rounded as cv::resize with INTER_AREA rounds it (halves upwards for blocks of four, else to even), in a quarter of
/// its time: a whole photograph is read for it. Incomplete blocks at the right and at the bottom are dropped.
/// Assumes a factor of 1 to 257.
[[nodiscard]] cv::Mat block_means(const cv::Mat& bgr, int factor);

}  // namespace glintline
