#include "locate/tag_corners.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "card/layout.h"

namespace glintline {

namespace {

// A blurred corner draws in, and encoded levels put a black one's edges further in (by experiment:
// tests/locate/tag_corners_test.cpp).
constexpr double kInwardPerBlur = 0.55;
constexpr double kWindowModules = 0.6;  // half the window, in modules of the tag
constexpr int kLeastWindowPx = 3;

double side_px(const NumberTag& tag) {
  double sum = 0;
  for (int i = 0; i < 4; ++i) sum += (tag.corners_px[(i + 1) % 4] - tag.corners_px[i]).norm();
  return sum / 4;
}

/// The tag and its margin, inside the picture.
cv::Rect around(const NumberTag& tag, const cv::Size& size, int margin_px) {
  std::vector<cv::Point2f> corners;
  for (const Point2& c : tag.corners_px) corners.emplace_back(c.x(), c.y());
  cv::Rect box = cv::boundingRect(corners);
  box -= cv::Point(margin_px, margin_px);
  box += cv::Size(2 * margin_px, 2 * margin_px);
  return box & cv::Rect({}, size);
}

}  // namespace

std::vector<NumberTag> refined_tags(const cv::Mat& bgr, std::vector<NumberTag> tags, double blur_px) {
  for (NumberTag& tag : tags) {
    const int window = static_cast<int>(kWindowModules * side_px(tag) / kMarkerModules);
    if (window < kLeastWindowPx) continue;
    const cv::Rect box = around(tag, bgr.size(), 3 * window + 5);
    cv::Mat grey;
    cv::cvtColor(bgr(box), grey, cv::COLOR_BGR2GRAY);
    std::vector<cv::Point2f> corners;
    for (const Point2& c : tag.corners_px) corners.emplace_back(c.x() - box.x, c.y() - box.y);
    const bool inside = std::all_of(corners.begin(), corners.end(), [&](const cv::Point2f& c) {
      return c.x > window && c.y > window && c.x < box.width - window - 1 && c.y < box.height - window - 1;
    });
    if (!inside) continue;
    cv::cornerSubPix(grey, corners, cv::Size(window, window), cv::Size(-1, -1),
                     cv::TermCriteria(cv::TermCriteria::EPS + cv::TermCriteria::COUNT, 40, 0.005));
    std::array<Point2, 4> seen;
    for (int i = 0; i < 4; ++i) seen[i] = Point2(corners[i].x + box.x, corners[i].y + box.y);
    for (int i = 0; i < 4; ++i) {
      const Point2 from_next = (seen[i] - seen[(i + 1) % 4]).normalized();
      const Point2 from_last = (seen[i] - seen[(i + 3) % 4]).normalized();
      tag.corners_px[i] = seen[i] + kInwardPerBlur * blur_px * (from_next + from_last);
    }
  }
  return tags;
}

}  // namespace glintline
