#include "trace/plane_picture.h"

#include <opencv2/imgproc.hpp>

namespace glintline {

namespace {

constexpr int kNodeStep = 16;

}  // namespace

cv::Mat picture_of_plane(const cv::Mat& bgr, const CameraView& view, const PlaneFrame& frame, int reduction) {
  const int columns = (frame.size.width + kNodeStep - 1) / kNodeStep + 1;
  const int rows = (frame.size.height + kNodeStep - 1) / kNodeStep + 1;
  cv::Mat nodes(rows, columns, CV_32FC2);
  for (int j = 0; j < rows; ++j) {
    for (int i = 0; i < columns; ++i) {
      const Point2 px = view.pixel(frame.board(i * kNodeStep, j * kNodeStep));
      // A reduced picture's pixel centre lies in the middle of the pixels it averages.
      const Point2 reduced = (px.array() + 0.5) / reduction - 0.5;
      nodes.at<cv::Vec2f>(j, i) = {static_cast<float>(reduced.x()), static_cast<float>(reduced.y())};
    }
  }
  // A band at a time: its map stays in the processor's cache, and no full-size one need be set up.
  cv::Mat seen(frame.size, bgr.type());
  cv::Mat band(std::min(kNodeStep, frame.size.height), frame.size.width, CV_32FC2);
  for (int j = 0; j * kNodeStep < seen.rows; ++j) {
    const auto* above = nodes.ptr<cv::Vec2f>(j);
    const auto* below = nodes.ptr<cv::Vec2f>(j + 1);
    const int last = std::min(kNodeStep, seen.rows - j * kNodeStep);
    for (int y = 0; y < last; ++y) {
      const float v = static_cast<float>(y) / kNodeStep;
      auto* out = band.ptr<cv::Vec2f>(y);
      for (int i = 0; i + 1 < columns; ++i) {
        const cv::Vec2f left = above[i] * (1 - v) + below[i] * v;
        const cv::Vec2f step = (above[i + 1] * (1 - v) + below[i + 1] * v - left) * (1.0F / kNodeStep);
        const int end = std::min(kNodeStep, band.cols - i * kNodeStep);
        for (int k = 0; k < end; ++k) out[i * kNodeStep + k] = left + step * static_cast<float>(k);
      }
    }
    cv::Mat rows = seen.rowRange(j * kNodeStep, j * kNodeStep + last);
    cv::remap(bgr, rows, band.rowRange(0, last), cv::noArray(), cv::INTER_LINEAR, cv::BORDER_CONSTANT);
  }
  return seen;
}

}  // namespace glintline
