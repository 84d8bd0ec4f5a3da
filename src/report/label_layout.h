#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "math/geometry.h"
#include "report/pixel_canvas.h"

namespace glintline {

/// Finds room for labels in a picture without covering what was measured or another label.
class LabelLayout {
 public:
  /// A free area of `width` x `height` pixels with its corner at (0, 0).
  LabelLayout(int width, int height);

  /// Nothing may lie within `margin_px` of the line.
  void keep_free(const std::vector<Point2>& line, double margin_px);
  /// Nothing may lie inside the points' convex hull.
  void keep_hull_free(const std::vector<Point2>& points);

  /// The nearest free place for a label of that size near `anchor`, inside the area; it is taken from then on.
  /// Nothing where there is no room.
  [[nodiscard]] std::optional<Area> place(const Point2& anchor, double width, double height);

 private:
  [[nodiscard]] bool is_free(const cv::Mat& sums, const cv::Rect& box) const;

  cv::Mat taken_;  ///< CV_8U, 1 where nothing may lie
};

}  // namespace glintline
