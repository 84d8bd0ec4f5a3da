#include "math/circle_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <optional>
#include <random>

#include "base/text.h"
#include "math/statistics.h"

namespace glintline {

namespace {

constexpr int kParameters = 3;
constexpr int kRounds = 50;
constexpr int kSteps = 100;
/// A change of the circle, as a share of the points' extent, that no measurement can see.
constexpr double kSettled = 1e-10;
/// Trials of the starting search: with 40 % of the points astray all 120 triples hold a stray one with p = 0.78^120.
constexpr int kTrials = 120;
constexpr std::size_t kStartPoints = 200;
/// Beyond this many extents the arc's sagitta is under a 10,000th of its chord: a line.
constexpr double kStraight = 1000;

Error too_few(int count, int needed) {
  return {Fault::kNotMeasurable, counted(count, "point") + " found, " + std::to_string(needed) + " needed for a circle",
          ""};
}

Error straight() { return {Fault::kNotMeasurable, "the points lie on a line: they have no radius", ""}; }

double extent_of(std::span<const Point2> points) {
  Eigen::AlignedBox2d box;
  for (const Point2& p : points) box.extend(p);
  return box.diagonal().norm();
}

bool usable(const Circle& circle, double extent) {
  return std::isfinite(circle.radius) && circle.radius > 0 && circle.radius < kStraight * extent &&
         circle.centre.allFinite();
}

/// Weighted second moments about the centroid, z = x² + y².
struct Moments {
  Point2 centroid = Point2::Zero();
  double xx = 0, yy = 0, xy = 0, xz = 0, yz = 0, zz = 0;
};

Moments moments_of(std::span<const Point2> points, std::span<const double> weights) {
  Moments m;
  double sum = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    m.centroid += weights[i] * points[i];
    sum += weights[i];
  }
  m.centroid /= sum;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double w = weights[i] / sum;
    const Point2 d = points[i] - m.centroid;
    const double z = d.squaredNorm();
    m.xx += w * d.x() * d.x();
    m.yy += w * d.y() * d.y();
    m.xy += w * d.x() * d.y();
    m.xz += w * d.x() * z;
    m.yz += w * d.y() * z;
    m.zz += w * z * z;
  }
  return m;
}

/// Smallest root of the characteristic polynomial: Newton's method from 0 approaches it from the left.
double smallest_root(const std::array<double, 4>& a) {
  double x = 0;
  double y = a[0];
  for (int i = 0; i < kSteps; ++i) {
    const double next = x - y / (a[1] + x * (2 * a[2] + 3 * a[3] * x));
    if (!std::isfinite(next) || next == x) break;
    const double there = a[0] + next * (a[1] + next * (a[2] + next * a[3]));
    if (std::abs(there) >= std::abs(y)) break;
    x = next;
    y = there;
  }
  return x;
}

Circle taubin_circle(const Moments& m) {
  const double mz = m.xx + m.yy;
  const double determinant = m.xx * m.yy - m.xy * m.xy;
  const double variance = m.zz - mz * mz;
  const double x =
      smallest_root({m.xz * (m.xz * m.yy - m.yz * m.xy) + m.yz * (m.yz * m.xx - m.xz * m.xy) - variance * determinant,
                     variance * mz + 4 * determinant * mz - m.xz * m.xz - m.yz * m.yz, -3 * mz * mz - m.zz, 4 * mz});
  const double divisor = 2 * (x * x - x * mz + determinant);
  const Point2 centre((m.xz * (m.yy - x) - m.yz * m.xy) / divisor, (m.yz * (m.xx - x) - m.xz * m.xy) / divisor);
  return {m.centroid + centre, std::sqrt(centre.squaredNorm() + mz)};
}

double squares_of(const Circle& circle, std::span<const Point2> points, std::span<const double> weights) {
  double sum = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double d = circle.distance(points[i]);
    sum += weights[i] * d * d;
  }
  return sum;
}

/// Normal equations of the distances: J'WJ and J'Wr, J = d distance / d (centre, radius).
struct Normal {
  Eigen::Matrix3d matrix = Eigen::Matrix3d::Zero();
  Eigen::Vector3d gradient = Eigen::Vector3d::Zero();
};

Normal normal_of(const Circle& circle, std::span<const Point2> points, std::span<const double> weights) {
  Normal n;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (weights[i] == 0) continue;
    const Point2 ray = points[i] - circle.centre;
    const double length = ray.norm();
    const Eigen::Vector3d j(-ray.x() / length, -ray.y() / length, -1);
    n.matrix += weights[i] * j * j.transpose();
    n.gradient += weights[i] * j * (length - circle.radius);
  }
  return n;
}

/// Levenberg-Marquardt to the weighted geometric minimum.
Circle refined(Circle circle, std::span<const Point2> points, std::span<const double> weights, double extent) {
  double damping = 1e-3;
  double squares = squares_of(circle, points, weights);
  for (int step = 0; step < kSteps; ++step) {
    const Normal n = normal_of(circle, points, weights);
    Eigen::Matrix3d damped = n.matrix;
    damped.diagonal() *= 1 + damping;
    const Eigen::Vector3d move = damped.ldlt().solve(-n.gradient);
    const Circle next{circle.centre + move.head<2>(), circle.radius + move[2]};
    const bool settled = move.norm() < kSettled * extent;
    const double there = squares_of(next, points, weights);
    if (!(there <= squares)) {
      if (settled) break;
      damping *= 10;
      if (damping > 1e12) break;
      continue;
    }
    circle = next;
    squares = there;
    damping *= 0.1;
    if (settled) break;
  }
  return circle;
}

std::optional<Circle> circle_through(const Point2& a, const Point2& b, const Point2& c) {
  const Point2 u = b - a;
  const Point2 v = c - a;
  const double twice_area = 2 * turned_quarter(u).dot(v);
  if (!(std::abs(twice_area) > 1e-12 * u.norm() * v.norm())) return std::nullopt;
  const Point2 centre = (turned_quarter(u) * v.squaredNorm() - turned_quarter(v) * u.squaredNorm()) / twice_area;
  return Circle{a + centre, centre.norm()};
}

/// Circle through the three points whose median squared residual is least (Rousseeuw, JASA 79, 1984).
std::optional<Circle> start_circle(std::span<const Point2> points, double extent) {
  std::vector<Point2> looked_at;
  const std::size_t step = std::max<std::size_t>(1, points.size() / kStartPoints);
  for (std::size_t i = 0; i < points.size(); i += step) looked_at.push_back(points[i]);
  std::mt19937 random(20);  // fixed: the same points always give the same circle
  const auto pick = [&] { return looked_at[random() % looked_at.size()]; };
  std::vector<double> distances(looked_at.size());
  const auto middle = distances.begin() + static_cast<std::ptrdiff_t>(distances.size() / 2);
  std::optional<Circle> best;
  double least = std::numeric_limits<double>::infinity();
  for (int trial = 0; trial < kTrials; ++trial) {
    const Point2 a = pick();
    const Point2 b = pick();
    const Point2 c = pick();
    const std::optional<Circle> circle = circle_through(a, b, c);
    if (!circle || !usable(*circle, extent)) continue;
    std::transform(looked_at.begin(), looked_at.end(), distances.begin(),
                   [&](const Point2& p) { return std::abs(circle->distance(p)); });
    std::nth_element(distances.begin(), middle, distances.end());
    if (*middle < least) {
      least = *middle;
      best = circle;
    }
  }
  return best;
}

std::vector<double> residuals_of(const Circle& circle, std::span<const Point2> points, std::span<const double> prior) {
  std::vector<double> residuals(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) residuals[i] = circle.distance(points[i]) * std::sqrt(prior[i]);
  return residuals;
}

/// Fills weights, noise and covariance of `fit` at its circle.
void describe(CircleFit& fit, std::span<const Point2> points, std::span<const double> prior, double scale,
              const FitOptions& options) {
  std::vector<double> residuals = residuals_of(fit.circle, points, prior);
  double variance = residual_variance(residuals, scale, options.loss, kParameters);
  variance = std::max(variance, options.least_sigma * options.least_sigma);
  fit.sigma = std::sqrt(variance);
  std::vector<double> inliers(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    inliers[i] = fit.weights[i] > 0 ? prior[i] : 0;
    residuals[i] *= fit.weights[i];
  }
  if (options.ordered) variance *= correlation_inflation(residuals);
  fit.covariance = variance * normal_of(fit.circle, points, inliers).matrix.inverse();
}

}  // namespace

double CircleFit::u_radius() const { return std::sqrt(covariance(2, 2)); }

Result<Circle> fit_circle_algebraic(std::span<const Point2> points, std::span<const double> weights) {
  if (points.size() < 3) return too_few(static_cast<int>(points.size()), 3);
  assert(weights.empty() || weights.size() == points.size());
  const std::vector<double> alike(weights.empty() ? points.size() : 0, 1.0);
  const Circle circle = taubin_circle(moments_of(points, weights.empty() ? std::span<const double>(alike) : weights));
  if (!usable(circle, extent_of(points))) return straight();
  return circle;
}

Result<CircleFit> fit_circle(std::span<const Point2> points, const FitOptions& options) {
  if (points.size() < 4) return too_few(static_cast<int>(points.size()), 4);
  assert(options.weights.empty() || options.weights.size() == points.size());
  const double extent = extent_of(points);
  const double floor = std::max(options.least_sigma, 1e-14 * extent);
  const std::vector<double> alike(options.weights.empty() ? points.size() : 0, 1.0);
  const std::span<const double> prior = options.weights.empty() ? std::span<const double>(alike) : options.weights;

  CircleFit fit;
  if (options.loss == Loss::kTukey) {
    const std::optional<Circle> start = start_circle(points, extent);
    if (!start) return straight();
    fit.circle = *start;
  } else {
    Result<Circle> start = fit_circle_algebraic(points, prior);
    if (!start) return start.error();
    fit.circle = *start;
  }
  double scale = 0;
  std::vector<double> total(points.size());
  fit.weights.resize(points.size());
  for (int round = 0; round < kRounds; ++round) {
    const std::vector<double> residuals = residuals_of(fit.circle, points, prior);
    scale = std::max(residual_scale(residuals, kParameters), floor);
    for (std::size_t i = 0; i < points.size(); ++i) {
      fit.weights[i] = robust_weight(options.loss, residuals[i] / scale);
      total[i] = fit.weights[i] * prior[i];
    }
    fit.kept = static_cast<int>(std::count_if(total.begin(), total.end(), [](double w) { return w > 0; }));
    if (fit.kept < 4) return too_few(fit.kept, 4);
    const Circle next = refined(fit.circle, points, total, extent);
    if (!usable(next, extent)) return straight();
    const double change = (next.centre - fit.circle.centre).norm() + std::abs(next.radius - fit.circle.radius);
    fit.circle = next;
    if (options.loss == Loss::kSquares || change < kSettled * extent) break;
  }
  describe(fit, points, prior, scale, options);
  return fit;
}

}  // namespace glintline
