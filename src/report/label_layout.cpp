#include "report/label_layout.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace glintline {
namespace {

constexpr double kNearest_px = 16;
constexpr double kStep_px = 10;
constexpr int kDirections = 32;

/// Far outside, a coordinate no longer fits OpenCV's integers; what lies there cannot be covered anyway.
cv::Point whole(const Point2& point) {
  return {static_cast<int>(std::lround(std::clamp(point.x(), -20000.0, 20000.0))),
          static_cast<int>(std::lround(std::clamp(point.y(), -20000.0, 20000.0)))};
}

std::vector<cv::Point> whole(const std::vector<Point2>& points) {
  std::vector<cv::Point> rounded;
  for (const Point2& point : points) rounded.push_back(whole(point));
  return rounded;
}

/// The box beside `anchor` in direction `towards` whose nearest side is `distance` away.
cv::Rect box_beside(const Point2& anchor, const Point2& towards, double distance, double width, double height) {
  const double reach_x = std::abs(towards.x()) > 1e-9 ? width / 2 / std::abs(towards.x()) : 1e9;
  const double reach_y = std::abs(towards.y()) > 1e-9 ? height / 2 / std::abs(towards.y()) : 1e9;
  const Point2 centre = anchor + towards * (distance + std::min(reach_x, reach_y));
  const cv::Point corner = whole(Point2(centre.x() - width / 2, centre.y() - height / 2));
  return {corner.x, corner.y, static_cast<int>(std::ceil(width)), static_cast<int>(std::ceil(height))};
}

}  // namespace

LabelLayout::LabelLayout(int width, int height) : taken_(cv::Mat::zeros(height, width, CV_8U)) {}

void LabelLayout::keep_free(const std::vector<Point2>& line, double margin_px) {
  const int thickness = std::max(1, static_cast<int>(std::lround(2 * margin_px)));
  const std::vector<cv::Point> points = whole(line);
  for (std::size_t i = 0; i < points.size(); ++i) {
    cv::line(taken_, points[i == 0 ? 0 : i - 1], points[i], 1, thickness);
  }
}

void LabelLayout::keep_hull_free(const std::vector<Point2>& points) {
  if (points.size() < 3) return;
  std::vector<cv::Point> hull;
  cv::convexHull(whole(points), hull);
  cv::fillConvexPoly(taken_, hull, 1);
}

bool LabelLayout::is_free(const cv::Mat& sums, const cv::Rect& box) const {
  if ((box & cv::Rect(0, 0, taken_.cols, taken_.rows)) != box) return false;
  const cv::Point end = box.br();
  return sums.at<int>(end.y, end.x) - sums.at<int>(box.y, end.x) - sums.at<int>(end.y, box.x) +
             sums.at<int>(box.y, box.x) ==
         0;
}

std::optional<Area> LabelLayout::place(const Point2& anchor, double width, double height) {
  cv::Mat sums;
  cv::integral(taken_, sums, CV_32S);
  const double furthest = std::hypot(taken_.cols, taken_.rows);
  for (double distance = kNearest_px; distance < furthest; distance += kStep_px) {
    for (int i = 0; i < kDirections; ++i) {
      // Straight up first, then by turns to both sides: where all is free, labels stand above.
      const double turn = (i % 2 == 0 ? 1 : -1) * ((i + 1) / 2) * 2 * M_PI / kDirections;
      const cv::Rect box = box_beside(anchor, {std::sin(turn), -std::cos(turn)}, distance, width, height);
      if (!is_free(sums, box)) continue;
      constexpr int kAir = 4;
      cv::rectangle(taken_, box + cv::Size(2 * kAir, 2 * kAir) - cv::Point(kAir, kAir), 1, cv::FILLED);
      return Area{static_cast<double>(box.x), static_cast<double>(box.y), static_cast<double>(box.width),
                  static_cast<double>(box.height)};
    }
  }
  return std::nullopt;
}

}  // namespace glintline
