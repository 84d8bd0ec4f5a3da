#include "math/line_fit.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>
#include <random>
#include <string>

#include "base/text.h"
#include "math/statistics.h"

namespace glintline {

namespace {

constexpr int kParameters = 2;
constexpr int kRounds = 50;
/// A change of the line, as a share of the points' extent, that no measurement can see.
constexpr double kSettled = 1e-10;
/// Trials of the starting search: with half of the points astray all 80 pairs hold a stray one with p = 0.75^80.
constexpr int kTrials = 80;
/// Points looked at by the starting search; more cost time and add nothing to a start.
constexpr std::size_t kStartPoints = 200;

Error too_few(std::size_t count) {
  return {Fault::kNotMeasurable, counted(static_cast<int>(count), "point") + " found, 3 needed for a line", ""};
}

double extent_of(std::span<const Point2> points) {
  Eigen::AlignedBox2d box;
  for (const Point2& p : points) box.extend(p);
  return box.diagonal().norm();
}

/// The total least squares line under `weights`.
Line2 weighted_line(std::span<const Point2> points, std::span<const double> weights) {
  double sum = 0;
  Point2 centroid = Point2::Zero();
  for (std::size_t i = 0; i < points.size(); ++i) {
    sum += weights[i];
    centroid += weights[i] * points[i];
  }
  centroid /= sum;
  Eigen::Matrix2d scatter = Eigen::Matrix2d::Zero();
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Point2 d = points[i] - centroid;
    scatter += weights[i] * d * d.transpose();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes(scatter);
  Point2 direction = axes.eigenvectors().col(1);
  if (direction.dot(points.back() - points.front()) < 0) direction = -direction;
  return {centroid, direction};
}

std::vector<double> residuals_of(const Line2& line, std::span<const Point2> points, std::span<const double> prior) {
  std::vector<double> residuals(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) residuals[i] = line.distance(points[i]) * std::sqrt(prior[i]);
  return residuals;
}

/// Line through the pair of points whose median squared residual is least (Rousseeuw, Least median of squares
/// regression, JASA 79, 1984).
Line2 start_line(std::span<const Point2> points) {
  std::vector<Point2> looked_at;
  const std::size_t step = std::max<std::size_t>(1, points.size() / kStartPoints);
  for (std::size_t i = 0; i < points.size(); i += step) looked_at.push_back(points[i]);
  std::mt19937 random(20);  // fixed: the same points always give the same line
  const auto pick = [&] { return looked_at[random() % looked_at.size()]; };
  std::vector<double> distances(looked_at.size());
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  Line2 best;
  double least = std::numeric_limits<double>::infinity();
  for (int trial = 0; trial < kTrials; ++trial) {
    const Point2 a = pick();
    const Point2 b = pick();
    if (a == b) continue;
    const Line2 line{a, (b - a).normalized()};
    std::transform(looked_at.begin(), looked_at.end(), distances.begin(),
                   [&](const Point2& p) { return std::abs(line.distance(p)); });
    std::nth_element(distances.begin(), middle, distances.end());
    if (*middle < least) {
      least = *middle;
      best = line;
    }
  }
  return best;
}

struct Weighting {
  std::vector<double> robust;
  std::vector<double> total;
  double scale = 0;
  int kept = 0;
};

Weighting weighting_of(std::span<const double> residuals, std::span<const double> prior, Loss loss, double floor) {
  Weighting w;
  w.scale = std::max(residual_scale(residuals, kParameters), floor);
  w.robust.resize(residuals.size());
  w.total.resize(residuals.size());
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    w.robust[i] = robust_weight(loss, residuals[i] / w.scale);
    w.total[i] = w.robust[i] * prior[i];
    w.kept += w.total[i] > 0;
  }
  return w;
}

Eigen::Matrix2d covariance_of(const LineFit& fit, std::span<const Point2> points, std::span<const double> prior,
                              double variance) {
  double across = 0;
  double along = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (fit.weights[i] == 0) continue;
    const double t = fit.line.along(points[i]);
    across += prior[i];
    along += prior[i] * t * t;
  }
  return Eigen::Vector2d(variance / across, variance / along).asDiagonal();
}

double inflation_of(std::span<const double> residuals, std::span<const double> robust) {
  std::vector<double> pulled(residuals.size());
  for (std::size_t i = 0; i < residuals.size(); ++i) pulled[i] = residuals[i] * robust[i];
  return correlation_inflation(pulled);
}

}  // namespace

double LineFit::u_at(const Point2& at) const {
  const double t = line.along(at);
  return std::sqrt(covariance(0, 0) + 2 * t * covariance(0, 1) + t * t * covariance(1, 1));
}

double LineFit::u_angle_rad() const { return std::sqrt(covariance(1, 1)); }

Result<LineFit> fit_line(std::span<const Point2> points, const FitOptions& options) {
  if (points.size() < 3) return too_few(points.size());
  assert(options.weights.empty() || options.weights.size() == points.size());
  const double extent = extent_of(points);
  if (!(extent > 0)) return Error{Fault::kNotMeasurable, "all points of the line lie in one place", ""};
  const std::vector<double> alike(options.weights.empty() ? points.size() : 0, 1.0);
  const std::span<const double> prior = options.weights.empty() ? std::span<const double>(alike) : options.weights;
  // Rounding noise: under it a perfect line would divide by zero.
  const double floor = std::max(options.least_sigma, 1e-14 * extent);

  LineFit fit;
  fit.line = options.loss == Loss::kTukey ? start_line(points) : weighted_line(points, prior);
  std::vector<double> residuals = residuals_of(fit.line, points, prior);
  Weighting weighting;
  for (int round = 0; round < kRounds; ++round) {
    weighting = weighting_of(residuals, prior, options.loss, floor);
    if (weighting.kept < 3) return too_few(static_cast<std::size_t>(weighting.kept));
    const Line2 next = weighted_line(points, weighting.total);
    const double change = std::abs(next.distance(fit.line.point)) +
                          extent * std::abs(next.direction.dot(turned_quarter(fit.line.direction)));
    fit.line = next;
    residuals = residuals_of(fit.line, points, prior);
    if (options.loss == Loss::kSquares || change < kSettled * extent) break;
  }
  fit.weights = std::move(weighting.robust);
  fit.kept = weighting.kept;
  double variance = residual_variance(residuals, weighting.scale, options.loss, kParameters);
  variance = std::max(variance, options.least_sigma * options.least_sigma);
  fit.sigma = std::sqrt(variance);
  if (options.ordered) variance *= inflation_of(residuals, fit.weights);
  fit.covariance = covariance_of(fit, points, prior, variance);
  return fit;
}

namespace {

/// Tukey's biweight of a distance in units of its width.
double biweight(double share) {
  const double inside = std::max(0.0, 1 - share * share);
  return inside * inside;
}

/// How well points agree with a line, by Tukey's biweight of a given width. Neighbours agree alike, so that the points
/// are looked at in strides: a line that cannot reach what another one has is given up early.
class Agreement {
 public:
  Agreement(std::span<const Point2> points, double width) : width_(width) {
    constexpr std::size_t kStride = 16;
    for (std::size_t first = 0; first < kStride; ++first) {
      for (std::size_t i = first; i < points.size(); i += kStride) {
        x_.push_back(points[i].x());
        y_.push_back(points[i].y());
      }
    }
  }
  /// Sum of the weights, or any lower one where it does not exceed `least`.
  [[nodiscard]] double with(const Line2& line, double least) const {
    constexpr std::size_t kPiece = 32;
    const double nx = -line.direction.y() / width_;
    const double ny = line.direction.x() / width_;
    const double off = nx * line.point.x() + ny * line.point.y();
    double sum = 0;
    for (std::size_t from = 0; from < x_.size(); from += kPiece) {
      const std::size_t to = std::min(x_.size(), from + kPiece);
      for (std::size_t i = from; i < to; ++i) sum += biweight(nx * x_[i] + ny * y_[i] - off);
      if (sum + static_cast<double>(x_.size() - to) <= least) return sum;
    }
    return sum;
  }

 private:
  double width_;
  std::vector<double> x_;
  std::vector<double> y_;
};

}  // namespace

std::vector<Point2> agreeing_points(std::span<const Point2> points, double tolerance) {
  constexpr std::size_t kLookedAt = 60;
  const std::size_t step = std::max<std::size_t>(1, points.size() / kLookedAt);
  const auto weight = [&](const Line2& line, const Point2& p) { return biweight(line.distance(p) / tolerance); };
  const Agreement agreement(points, tolerance);
  double most = 0;
  Line2 line;
  for (std::size_t i = 0; i < points.size(); i += step) {
    for (std::size_t k = i + 5 * step; k < points.size(); k += step) {
      if (points[k] == points[i]) continue;
      const Line2 candidate{points[i], (points[k] - points[i]).normalized()};
      const double support = agreement.with(candidate, most);
      if (support <= most) continue;
      most = support;
      line = candidate;
    }
  }
  std::vector<Point2> out;
  if (!(most > 0)) return out;
  const auto weights = [&] {
    std::vector<double> all(points.size());
    std::transform(points.begin(), points.end(), all.begin(), [&](const Point2& p) { return weight(line, p); });
    return all;
  };
  // A line through two noisy points lies aslant among its own: through all of them it settles.
  for (int round = 0; round < 5; ++round) line = weighted_line(points, weights());
  for (const Point2& p : points) {
    if (weight(line, p) > 0) out.push_back(p);
  }
  return out;
}

Result<Regression> fit_regression(std::span<const double> x, std::span<const double> y) {
  assert(x.size() == y.size());
  if (x.size() < 3) return too_few(x.size());
  const auto n = static_cast<double>(x.size());
  const double x_mean = mean(x);
  const double y_mean = mean(y);
  double sxx = 0;
  double sxy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sxx += (x[i] - x_mean) * (x[i] - x_mean);
    sxy += (x[i] - x_mean) * (y[i] - y_mean);
  }
  if (!(sxx > 0)) return Error{Fault::kNotMeasurable, "all points of the line lie at one x", ""};
  Regression fit;
  fit.slope = sxy / sxx;
  fit.intercept = y_mean - fit.slope * x_mean;
  double squares = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    // About the means: subtracting the large intercept again would cost digits.
    const double r = (y[i] - y_mean) - fit.slope * (x[i] - x_mean);
    squares += r * r;
  }
  const double variance = squares / (n - 2);
  fit.sigma = std::sqrt(variance);
  fit.covariance << variance * (1 / n + x_mean * x_mean / sxx), -variance * x_mean / sxx, -variance * x_mean / sxx,
      variance / sxx;
  return fit;
}

}  // namespace glintline
