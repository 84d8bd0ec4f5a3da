#include "trace/plan_light.h"

#include <algorithm>

#include "math/linear_light.h"

namespace glintline {

cv::Vec3f linear_at(const cv::Mat& bgr, double x, double y) {
  const auto& linear = linear_light();
  const int xi = static_cast<int>(x);
  const int yi = static_cast<int>(y);
  const auto fx = static_cast<float>(x - xi);
  const auto fy = static_cast<float>(y - yi);
  const cv::Vec3b* upper = bgr.ptr<cv::Vec3b>(yi) + xi;
  const cv::Vec3b* lower = bgr.ptr<cv::Vec3b>(yi + 1) + xi;
  cv::Vec3f out;
  for (int c = 0; c < 3; ++c) {
    const float a = linear[upper[0][c]] * (1 - fx) + linear[upper[1][c]] * fx;
    const float b = linear[lower[0][c]] * (1 - fx) + linear[lower[1][c]] * fx;
    out[c] = a * (1 - fy) + b * fy;
  }
  return out;
}

bool inside(const cv::Mat& bgr, double x, double y, double margin) {
  return x >= margin && y >= margin && x < bgr.cols - 1 - margin && y < bgr.rows - 1 - margin;
}

bool colourful(const cv::Vec3f& light) {
  constexpr float kLeast = 0.5F;  // of the brightest channel lies between it and the dimmest
  const auto [low, high] = std::minmax({light[0], light[1], light[2]});
  return high - low >= kLeast * high;
}

}  // namespace glintline
