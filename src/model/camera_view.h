#pragma once

#include "model/camera.h"

namespace glintline {

/// How one photograph sees the card's space.
///
/// Board frame (mm, true size, i.e. the print's stretch is already taken out): origin at the board's top-left corner,
/// X right, Y down, Z into the card. A *height* h over the card is Z = -h.
struct CameraView {
  Camera camera;
  Pose camera_from_board;

  /// Pixel of a point in the board frame.
  [[nodiscard]] Point2 pixel(const Point3& x_in_board) const;

  /// Where the sight line through `px` meets the plane at `height_mm` over the card: (X, Y) in the board frame, mm.
  /// Assumes that the sight line is not parallel to the card.
  [[nodiscard]] Point2 at_height(const Point2& px, double height_mm) const;

  /// The camera's centre in the board frame; its height over the card is -z().
  [[nodiscard]] Point3 eye() const { return camera_from_board.inverse().translation; }

  /// Size of a pixel (mm) in the plane at `height_mm`, at the point the pixel sees; mean over both directions.
  [[nodiscard]] double mm_per_px(const Point2& px, double height_mm) const;
};

}  // namespace glintline
