#pragma once

#include <array>
#include <opencv2/core/mat.hpp>

namespace glintline {

/// Linear light, 0 to 1, of the 256 sRGB codes (IEC 61966-2-1).
[[nodiscard]] const std::array<float, 256>& linear_of_code();

/// Bilinear look-up in linear light at (x, y); assumes 0 <= x < cols - 1 and 0 <= y < rows - 1. Channels as stored.
[[nodiscard]] cv::Vec3f linear_at(const cv::Mat& bgr, double x, double y);

/// True where linear_at may be asked with `margin` pixels to spare.
[[nodiscard]] bool inside(const cv::Mat& bgr, double x, double y, double margin = 0);

}  // namespace glintline
