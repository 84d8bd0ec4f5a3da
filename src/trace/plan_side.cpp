#include "trace/plan_side.h"

#include <algorithm>
#include <cmath>

#include "math/statistics.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

constexpr double kStepPx = 0.5;      ///< between samples of a profile
constexpr double kStationPx = 3;     ///< between profiles
constexpr int kAcross = 5;           ///< parallel profiles averaged, a pixel apart
/// A step counts as clear from this share of the strongest in its profile.
constexpr double kClearShare = 0.4;
/// Least step, in square root of linear light (0 to 1), a pixel.
constexpr double kLeastSlope = 0.01;

struct Step {
  double at_px = 0;
  double slope = 0;   ///< per pixel, of the strongest sample
  double height = 0;  ///< change over the step
};

/// Square roots of linear light along the outward normal, averaged over parallel profiles; empty outside the picture.
std::vector<cv::Vec3f> profile(const cv::Mat& bgr, const Point2& at, const SideSearch& search, const Point2& along) {
  const int half = static_cast<int>(search.reach_px / kStepPx);
  std::vector<cv::Vec3f> out(2 * half + 1, cv::Vec3f(0, 0, 0));
  for (int k = -half; k <= half; ++k) {
    cv::Vec3f sum(0, 0, 0);
    for (int m = 0; m < kAcross; ++m) {
      const Point2 p = at + k * kStepPx * search.outward + (m - kAcross / 2) * along;
      if (!inside(bgr, p.x(), p.y())) return {};
      sum += linear_at(bgr, p.x(), p.y());
    }
    for (int c = 0; c < 3; ++c) out[k + half][c] = std::sqrt(sum[c] / kAcross);
  }
  return out;
}

/// Strength of the change around every sample, per pixel, over two pixels.
std::vector<double> slopes(const std::vector<cv::Vec3f>& values) {
  std::vector<double> out(values.size(), 0);
  for (std::size_t k = 2; k + 2 < values.size(); ++k) {
    const cv::Vec3f d = values[k + 2] - values[k - 2];
    out[k] = std::sqrt(d.dot(d)) / (4 * kStepPx);
  }
  return out;
}

/// The outermost clear crest.
Step outermost(const std::vector<cv::Vec3f>& values, double reach_px) {
  const std::vector<double> slope = slopes(values);
  const double most = *std::max_element(slope.begin(), slope.end());
  Step step;
  if (most < kLeastSlope) return step;
  for (std::size_t k = slope.size() - 3; k > 2; --k) {
    const bool crest = slope[k] >= slope[k - 1] && slope[k] >= slope[k + 1];
    if (!crest || slope[k] < kClearShare * most) continue;
    double weight = 0;
    double moment = 0;
    std::size_t low = k;
    std::size_t high = k;
    while (low > 2 && slope[low - 1] < slope[low] && slope[low] > 0.5 * slope[k]) --low;
    while (high + 3 < slope.size() && slope[high + 1] < slope[high] && slope[high] > 0.5 * slope[k]) ++high;
    for (std::size_t i = low; i <= high; ++i) {
      weight += slope[i];
      moment += slope[i] * static_cast<double>(i);
    }
    const cv::Vec3f d = values[std::min(high + 2, values.size() - 1)] - values[low >= 2 ? low - 2 : 0];
    step = {moment / weight * kStepPx - reach_px, slope[k], std::sqrt(d.dot(d))};
    break;
  }
  return step;
}

}  // namespace

SideTrace trace_side(const cv::Mat& bgr, const SideSearch& search) {
  SideTrace out;
  const Point2 along = (search.to - search.from).normalized();
  const double length = (search.to - search.from).norm();
  const double reach = std::floor(search.reach_px / kStepPx) * kStepPx;
  std::vector<double> blurs;
  for (double s = kStationPx; s < length; s += kStationPx) {
    const Point2 at = search.from + s * along;
    const std::vector<cv::Vec3f> values = profile(bgr, at, search, along);
    if (values.size() < 9) continue;
    const Step step = outermost(values, reach);
    if (!(step.slope > 0)) continue;
    out.points_px.push_back(at + step.at_px * search.outward);
    blurs.push_back(step.height / (std::sqrt(2 * M_PI) * step.slope));
  }
  // The slope is taken over two pixels, which adds their own spread of 2 / sqrt(12).
  constexpr double kOwnSpread2 = 4.0 / 12;
  if (blurs.size() >= 8) out.blur_px = std::sqrt(std::max(0.2, std::pow(percentile(blurs, 0.2), 2) - kOwnSpread2));
  return out;
}

}  // namespace glintline
