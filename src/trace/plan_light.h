#pragma once

#include <opencv2/core/mat.hpp>

namespace glintline {

/// Bilinear look-up in linear light at (x, y); assumes 0 <= x < cols - 1 and 0 <= y < rows - 1. Channels as stored.
[[nodiscard]] cv::Vec3f linear_at(const cv::Mat& bgr, double x, double y);

/// True for paper in the field's colour, false for steel; linear light.
[[nodiscard]] bool colourful(const cv::Vec3f& light);

/// True where linear_at may be asked with `margin` pixels to spare.
[[nodiscard]] bool inside(const cv::Mat& bgr, double x, double y, double margin = 0);

}  // namespace glintline
