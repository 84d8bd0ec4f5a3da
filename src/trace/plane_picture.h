#pragma once

#include <opencv2/core.hpp>

#include "model/camera_view.h"

namespace glintline {

/// A plane of the board's space, parallel to the card, to be looked at square on.
struct PlaneFrame {
  Point2 origin_mm = Point2::Zero();  ///< board frame: where the picture's pixel (0, 0) lies
  Point2 right = {1, 0};              ///< board frame, unit: the picture's x
  Point2 down = {0, 1};               ///< board frame, unit, square to `right`: the picture's y
  double height_mm = 0;               ///< over the card
  double mm_per_px = 0.1;
  cv::Size size;

  [[nodiscard]] Point3 board(double x, double y) const {
    const Point2 p = origin_mm + mm_per_px * (x * right + y * down);
    return {p.x(), p.y(), -height_mm};
  }
  /// Where the picture shows a place of the plane.
  [[nodiscard]] Point2 shown(const Point2& board_mm) const {
    const Point2 d = (board_mm - origin_mm) / mm_per_px;
    return {d.dot(right), d.dot(down)};
  }
};

/// The photograph as seen square on in `frame`: bilinear, exact projection at nodes 16 pixels apart and linear
/// between. Outside the photograph: black. The photograph may be a reduced one: `reduction` is the factor by which
/// its pixels are larger than the view's.
[[nodiscard]] cv::Mat picture_of_plane(const cv::Mat& bgr, const CameraView& view, const PlaneFrame& frame,
                                       int reduction = 1);

}  // namespace glintline
