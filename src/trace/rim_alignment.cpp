#include "trace/rim_alignment.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "math/parabola.h"
#include "math/prior_fit.h"
#include "trace/plane_picture.h"

namespace glintline {

namespace {

constexpr double kMmPerPx = 0.02;
constexpr double kSmoothPx = 0.6;
/// The ring that is looked at, in radii: highlights on the dome, the rim, and a little of what the head stands on.
constexpr double kInnerRadii = 0.6;
constexpr double kOuterRadii = 1.25;
constexpr int kReachPx = 12;  ///< of a direction's shift
/// A direction counts where its slopes look as much like the other heads'.
constexpr double kLeastLikeness = 0.5;
constexpr int kDirections = 72;
constexpr std::size_t kLeastDirections = kDirections / 4;
constexpr int kRounds = 4;

Point2 direction(int k) {
  const double angle = 2 * std::numbers::pi * k / kDirections;
  return {std::cos(angle), std::sin(angle)};
}

/// A head's surroundings seen square on, grey.
cv::Mat surroundings(const cv::Mat& bgr, const CameraView& view, const Point2& centre, double radius_mm,
                     double height_mm) {
  PlaneFrame frame;
  frame.mm_per_px = kMmPerPx;
  const int half = static_cast<int>(kOuterRadii * radius_mm / kMmPerPx) + 2 * kReachPx;
  frame.size = {2 * half + 1, 2 * half + 1};
  frame.height_mm = height_mm;
  frame.origin_mm = centre - half * kMmPerPx * Point2(1, 1);
  cv::Mat grey, out;
  cv::cvtColor(picture_of_plane(bgr, view, frame), grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(out, CV_32F);
  cv::GaussianBlur(out, out, {}, kSmoothPx);
  return out;
}

/// Slopes along the radii about the place that is `shift` off the picture's middle; rows are directions of norm 1, so
/// that each weighs alike. Roots of the slopes: a highlight's end counts little more than the rim.
cv::Mat slopes_about(const cv::Mat& grey, const Point2& shift, double radius_px) {
  const double inner = kInnerRadii * radius_px;
  const int count = static_cast<int>((kOuterRadii - kInnerRadii) * radius_px);
  const Point2 middle = Point2(grey.cols - 1, grey.rows - 1) / 2 + shift;
  cv::Mat x(kDirections, count, CV_32F), y(kDirections, count, CV_32F);
  for (int k = 0; k < kDirections; ++k) {
    const Point2 out = direction(k);
    for (int i = 0; i < count; ++i) {
      const Point2 at = middle + (inner + i) * out;
      x.at<float>(k, i) = static_cast<float>(at.x());
      y.at<float>(k, i) = static_cast<float>(at.y());
    }
  }
  cv::Mat light, slopes;
  cv::remap(grey, light, x, y, cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  cv::Sobel(light, slopes, CV_32F, 1, 0, 1);
  slopes.forEach<float>([](float& s, const int*) { s = std::copysign(std::sqrt(std::abs(s)), s); });
  cv::GaussianBlur(slopes, slopes, {1, 3}, 0, 1);
  for (int k = 0; k < kDirections; ++k) {
    cv::Mat row = slopes.row(k);
    cv::normalize(row, row);
  }
  return slopes;
}

using Slopes = Eigen::Map<const Eigen::VectorXf>;

Slopes row_of(const cv::Mat& slopes, int k) { return {slopes.ptr<float>(k), slopes.cols}; }

/// Shift of `own` against `common`, pixels, where they look alike.
std::optional<double> shift_between(const Slopes& own, const Slopes& common) {
  std::array<double, 2 * kReachPx + 1> likeness{};
  for (int lag = -kReachPx; lag <= kReachPx; ++lag) {
    const Eigen::Index from = std::max(0, -lag);
    const Eigen::Index count = common.size() - std::abs(lag);
    const auto a = common.segment(from, count);
    const auto b = own.segment(from + lag, count);
    likeness[lag + kReachPx] = a.dot(b) / std::sqrt(std::max(1e-18F, a.squaredNorm() * b.squaredNorm()));
  }
  const auto best = std::max_element(likeness.begin(), likeness.end());
  if (*best < kLeastLikeness || best == likeness.begin() || best + 1 == likeness.end()) return std::nullopt;
  return static_cast<double>(best - likeness.begin()) - kReachPx + apex(best[-1], best[0], best[1]);
}

/// One shift, pixels, that the directions of a head agree on.
std::optional<PriorFit<2>> agreed_shift(const cv::Mat& own, const cv::Mat& common) {
  Observations<2> seen;
  for (int k = 0; k < kDirections; ++k) {
    if (const auto shift = shift_between(row_of(own, k), row_of(common, k))) seen.add(direction(k), *shift);
  }
  if (seen.values.size() < kLeastDirections) return std::nullopt;
  PriorFitOptions options;
  options.least_sigma = 0.3;
  options.correlated = 3;  // neighbouring directions are smoothed together
  return fit_with_prior<2>(seen, {}, Eigen::Vector2d::Zero(), options);
}

}  // namespace

std::vector<AlignedHead> align_rims(const cv::Mat& bgr, const CameraView& view, const std::vector<AlignedHead>& heads,
                                    double radius_mm, double height_mm) {
  std::vector<cv::Mat> pictures;
  for (const AlignedHead& h : heads) {
    pictures.push_back(surroundings(bgr, view, h.centre_mm, radius_mm, height_mm));
  }
  std::vector<AlignedHead> out = heads;
  std::vector<Point2> shifts(heads.size(), Point2::Zero());
  for (int round = 0; round < kRounds; ++round) {
    std::vector<cv::Mat> slopes;
    for (std::size_t i = 0; i < heads.size(); ++i) {
      slopes.push_back(slopes_about(pictures[i], shifts[i], radius_mm / kMmPerPx));
    }
    cv::Mat sum = cv::Mat::zeros(slopes.front().size(), CV_32F);
    for (const cv::Mat& s : slopes) sum += s;
    for (std::size_t i = 0; i < heads.size(); ++i) {
      // Without the head itself, which would hold itself where it is.
      const auto shift = agreed_shift(slopes[i], sum - slopes[i]);
      if (!shift) continue;
      shifts[i] += shift->value;
      out[i].u_mm = kMmPerPx * std::sqrt(shift->covariance.diagonal().maxCoeff());
    }
  }
  const Point2 common = common_shift(shifts);
  for (std::size_t i = 0; i < heads.size(); ++i) out[i].centre_mm += kMmPerPx * (shifts[i] - common);
  return out;
}

}  // namespace glintline
