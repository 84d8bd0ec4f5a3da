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
    // Most lines are no better than the best one so far, and to count tells that sooner than to sort.
    const auto nearer = std::count_if(distances.begin(), distances.end(), [&](double d) { return d < least; });
    if (nearer <= middle - distances.begin()) continue;
    std::nth_element(distances.begin(), middle, distances.end());
    least = *middle;
    best = line;
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

/// How well every `step`-th of some points agrees with a line, by Tukey's biweight of a given width.
class Agreement {
 public:
  Agreement(std::span<const Point2> points, std::size_t step, double width)
      : width_(width),
        origin_(points.empty() ? Point2(0, 0) : points.front()),
        x_((points.size() + step - 1) / step),
        y_(x_.size()) {
    for (Eigen::Index i = 0; i < x_.size(); ++i) {
      const Point2& p = points[static_cast<std::size_t>(i) * step];
      x_[i] = static_cast<float>(p.x() - origin_.x());
      y_[i] = static_cast<float>(p.y() - origin_.y());
    }
  }
  /// Sum of the weights.
  [[nodiscard]] float with(const Line2& line) const {
    const Point2 normal = turned_quarter(line.direction) / width_;
    const auto nx = static_cast<float>(normal.x());
    const auto ny = static_cast<float>(normal.y());
    const auto off = static_cast<float>(normal.dot(line.point - origin_));
    return (1 - (nx * x_ + ny * y_ - off).square()).cwiseMax(0.0F).square().sum();
  }

 private:
  double width_;
  Point2 origin_;  ///< among the points, so that single precision is enough
  Eigen::ArrayXf x_;
  Eigen::ArrayXf y_;
};

/// A line through two points, and how well others agree with it.
struct Candidate {
  Line2 line;
  float support = 0;
};

/// Lines through any two of about `count` evenly chosen points that do not lie next to each other.
std::vector<Candidate> lines_through_two(std::span<const Point2> points, std::size_t count) {
  constexpr std::size_t kLeastSteps = 5;
  const std::size_t step = std::max<std::size_t>(1, points.size() / count);
  std::vector<Candidate> out;
  for (std::size_t i = 0; i < points.size(); i += step) {
    for (std::size_t k = i + kLeastSteps * step; k < points.size(); k += step) {
      if (points[k] != points[i]) out.push_back({{points[i], (points[k] - points[i]).normalized()}, 0});
    }
  }
  return out;
}

/// Leaves the `count` best supported candidates.
void keep_best(std::vector<Candidate>& candidates, std::size_t count, const Agreement& agreement) {
  for (Candidate& c : candidates) c.support = agreement.with(c.line);
  if (candidates.size() <= count) return;
  const auto end = candidates.begin() + static_cast<std::ptrdiff_t>(count);
  std::ranges::nth_element(candidates, end, std::ranges::greater{}, &Candidate::support);
  candidates.erase(end, candidates.end());
}

}  // namespace

std::vector<Point2> agreeing_points(std::span<const Point2> points, double tolerance) {
  constexpr std::size_t kEnds = 60;
  // Neighbours agree alike: two hundred of them rank the lines, all of them decide among the first.
  constexpr std::size_t kRanking = 200;
  constexpr std::size_t kRanked = 30;
  std::vector<Candidate> candidates = lines_through_two(points, kEnds);
  keep_best(candidates, kRanked, Agreement(points, std::max<std::size_t>(1, points.size() / kRanking), tolerance));
  keep_best(candidates, 1, Agreement(points, 1, tolerance));
  std::vector<Point2> out;
  if (candidates.empty() || !(candidates.front().support > 0)) return out;
  Line2 line = candidates.front().line;
  const auto weight = [&](const Point2& p) { return biweight(line.distance(p) / tolerance); };
  const auto weights = [&] {
    std::vector<double> all(points.size());
    std::transform(points.begin(), points.end(), all.begin(), weight);
    return all;
  };
  // A line through two noisy points lies aslant among its own: through all of them it settles.
  for (int round = 0; round < 5; ++round) line = weighted_line(points, weights());
  for (const Point2& p : points) {
    if (weight(p) > 0) out.push_back(p);
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
