#include "math/line_fit.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "math/statistics.h"

namespace glintline {
namespace {

constexpr double kExact = 1e-9;  // algebra in double precision, coordinates up to some thousands

// NIST Statistical Reference Datasets, linear regression, Norris (y, x).
struct Norris {
  std::vector<double> x{0.2, 337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
                        0.6, 775.5, 666.9, 338.0, 447.5, 11.6,  556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
                        0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
  std::vector<double> y{0.1, 338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
                        0.1, 778.1, 668.8, 339.3, 448.9, 10.8,  557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
                        0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
};
constexpr double kNorrisIntercept = -0.262323073774029;
constexpr double kNorrisSlope = 1.00211681802045;

std::vector<Point2> noisy_line(std::mt19937& random, int count, double sigma) {
  std::normal_distribution<double> noise(0, sigma);
  const Line2 truth{Point2(40, -7), Point2(std::cos(0.4), std::sin(0.4))};
  std::vector<Point2> points;
  for (int i = 0; i < count; ++i) {
    points.push_back(truth.at(i * 100.0 / count) + noise(random) * turned_quarter(truth.direction));
  }
  return points;
}

TEST(Regression, GivesNistsCertifiedNorrisValues) {
  const Norris norris;
  const auto fit = fit_regression(norris.x, norris.y);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->intercept, kNorrisIntercept, 1e-12);
  EXPECT_NEAR(fit->slope, kNorrisSlope, 1e-13);
  EXPECT_NEAR(std::sqrt(fit->covariance(0, 0)), 0.232818234301152, 1e-12);
  EXPECT_NEAR(std::sqrt(fit->covariance(1, 1)), 4.29796848199937e-4, 1e-15);
  EXPECT_NEAR(fit->sigma, 0.884796396144373, 1e-12);
}

// Stretching x makes "square to the line" the same as "along y", so total least squares must approach the certified
// values and their standard errors.
TEST(LineFit, ApproachesNistsNorrisValuesWhereXIsStretched) {
  const Norris norris;
  constexpr double kStretch = 1e5;
  std::vector<Point2> points;
  for (std::size_t i = 0; i < norris.x.size(); ++i) points.emplace_back(kStretch * norris.x[i], norris.y[i]);
  const auto fit = fit_line(points);
  ASSERT_TRUE(fit);
  const double slope = fit->line.direction.y() / fit->line.direction.x();
  EXPECT_NEAR(slope * kStretch, kNorrisSlope, 1e-9);
  EXPECT_NEAR(fit->line.point.y() - slope * fit->line.point.x(), kNorrisIntercept, 1e-6);
  EXPECT_NEAR(fit->u_angle_rad() * kStretch, 4.29796848199937e-4, 1e-10);
  EXPECT_NEAR(fit->u_at(Point2(0, kNorrisIntercept)), 0.232818234301152, 1e-7);
}

TEST(LineFit, TurnsWithThePoints) {
  std::mt19937 random(3);
  std::vector<Point2> points = noisy_line(random, 60, 0.3);
  const auto before = fit_line(points, {.loss = Loss::kTukey});
  const Eigen::Rotation2Dd turn(1.3);
  for (Point2& p : points) p = turn * p;
  const auto after = fit_line(points, {.loss = Loss::kTukey});
  ASSERT_TRUE(before && after);
  EXPECT_NEAR((turn * before->line.direction - after->line.direction).norm(), 0, kExact);
  EXPECT_NEAR(after->line.distance(turn * before->line.point), 0, kExact);
}

TEST(LineFit, IsExactOnALineWithoutNoiseWhateverTheLoss) {
  std::mt19937 random(1);
  const std::vector<Point2> points = noisy_line(random, 20, 0);
  for (const Loss loss : {Loss::kSquares, Loss::kHuber, Loss::kTukey}) {
    const auto fit = fit_line(points, {.loss = loss});
    ASSERT_TRUE(fit);
    EXPECT_NEAR(fit->line.direction.x(), std::cos(0.4), kExact);
    EXPECT_NEAR(fit->line.distance(Point2(40, -7)), 0, kExact);
  }
}

// All on one side, as a chip or a crumb of dirt puts them.
TEST(LineFit, TukeyIgnoresAThirdOfTheOutlineBeingElsewhere) {
  std::mt19937 random(9);
  std::vector<Point2> points = noisy_line(random, 300, 0.1);
  for (int i = 60; i < 160; ++i) points[i] += Point2(0, 2 + 0.05 * (i - 60));
  const auto fit = fit_line(points, {.loss = Loss::kTukey});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->line.distance(Point2(40, -7)), 0, 0.05);  // 3 sigma of the remaining points
  EXPECT_LT(fit->kept, 215);
  EXPECT_GT(fit->kept, 185);
  EXPECT_NEAR(fit->sigma, 0.1, 0.03);
}

struct Honesty {
  double within_place = 0;
  double within_angle = 0;
};

template <typename Noise>
Honesty share_within_two_u(int count, const FitOptions& options, Noise noise) {
  constexpr int kRuns = 1000;
  const Line2 truth{Point2(40, -7), Point2(std::cos(0.4), std::sin(0.4))};
  Honesty honesty;
  for (int run = 0; run < kRuns; ++run) {
    std::mt19937 random(run);
    const std::vector<double> errors = noise(random, count);
    std::vector<Point2> points;
    for (int i = 0; i < count; ++i) points.push_back(truth.at(i) + errors[i] * turned_quarter(truth.direction));
    const auto fit = fit_line(points, options);
    if (!fit) continue;
    const Point2 end = truth.at(count);
    honesty.within_place += std::abs(fit->line.distance(end)) <= 2 * fit->u_at(end);
    const double angle = std::asin(turned_quarter(truth.direction).dot(fit->line.direction));
    honesty.within_angle += std::abs(angle) <= 2 * fit->u_angle_rad();
  }
  return {honesty.within_place / kRuns, honesty.within_angle / kRuns};
}

std::vector<double> white(std::mt19937& random, int count) {
  std::normal_distribution<double> noise(0, 0.3);
  std::vector<double> errors(count);
  for (double& e : errors) e = noise(random);
  return errors;
}

// 2 u of 40 points with 38 degrees of freedom hold 94.7 %; 0.03 is four sigma of 1000 runs.
TEST(LineFit, CovarianceIsHonestForEveryLoss) {
  for (const Loss loss : {Loss::kSquares, Loss::kHuber, Loss::kTukey}) {
    const Honesty h = share_within_two_u(40, {.loss = loss}, white);
    EXPECT_NEAR(h.within_place, 0.947, 0.03) << static_cast<int>(loss);
    EXPECT_NEAR(h.within_angle, 0.947, 0.03) << static_cast<int>(loss);
  }
}

// A quarter of strays far to one side: robust weights must neither follow them nor count them as knowledge.
TEST(LineFit, CovarianceStaysHonestWithStrays) {
  const auto strays = [](std::mt19937& random, int count) {
    std::vector<double> errors = white(random, count);
    for (int i = 10; i < 10 + count / 4; ++i) errors[i] += 6;
    return errors;
  };
  const Honesty h = share_within_two_u(80, {.loss = Loss::kTukey}, strays);
  EXPECT_GT(h.within_place, 0.92);
  EXPECT_GT(h.within_angle, 0.92);
  EXPECT_LT(h.within_place, 0.98);
}

// Neighbouring points of an outline share their blur; without `ordered` the covariance would be 1.6 times too small.
TEST(LineFit, OrderedCovarianceIsHonestForCorrelatedOutlines) {
  const auto smooth = [](std::mt19937& random, int count) {
    const std::vector<double> raw = white(random, count + 3);
    std::vector<double> errors(count);
    for (int i = 0; i < count; ++i) errors[i] = (raw[i] + raw[i + 1] + raw[i + 2]) / 3;
    return errors;
  };
  EXPECT_LT(share_within_two_u(200, {}, smooth).within_place, 0.85);
  const Honesty h = share_within_two_u(200, {.ordered = true}, smooth);
  EXPECT_GT(h.within_place, 0.90);
  EXPECT_GT(h.within_angle, 0.90);
}

TEST(LineFit, LeastSigmaKeepsRoundedPointsFromClaimingPerfection) {
  const std::vector<Point2> points{{0, 5}, {1, 5}, {2, 5}, {3, 5}};
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.1});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(std::sqrt(fit->covariance(0, 0)), 0.05, kExact);
}

TEST(LineFit, WeightsCountLikeRepeatedPoints) {
  const std::vector<Point2> once{{0, 0}, {1, 0.2}, {2, -0.1}, {3, 0.3}};
  std::vector<Point2> repeated = once;
  repeated.insert(repeated.begin() + 2, once[1]);
  const std::vector<double> weights{1, 2, 1, 1};
  const auto a = fit_line(once, {.weights = weights});
  const auto b = fit_line(repeated);
  ASSERT_TRUE(a && b);
  EXPECT_NEAR((a->line.direction - b->line.direction).norm(), 0, kExact);
  EXPECT_NEAR((a->line.point - b->line.point).norm(), 0, kExact);
}

TEST(LineFit, RefusesTooFewPointsAndHeaps) {
  EXPECT_EQ(fit_line(std::vector<Point2>{{0, 0}, {1, 1}}).error().fault, Fault::kNotMeasurable);
  EXPECT_EQ(fit_line(std::vector<Point2>(5, Point2(2, 2))).error().fault, Fault::kNotMeasurable);
  EXPECT_FALSE(fit_regression(std::vector<double>{1, 1, 1}, std::vector<double>{1, 2, 3}));
}

TEST(Line2, CrossingLiesOnBothLines) {
  const Line2 a{Point2(1, 2), Point2(0.6, 0.8)};
  const Line2 b{Point2(-3, 5), Point2(0.8, -0.6)};
  const auto p = crossing(a, b);
  ASSERT_TRUE(p);
  EXPECT_NEAR(a.distance(*p), 0, kExact);
  EXPECT_NEAR(b.distance(*p), 0, kExact);
  EXPECT_FALSE(crossing(a, Line2{Point2(9, 9), a.direction}));
}

// Two fifths of an outline are straight, the rest bends away or lies in a gap: the median of squares may take the bend,
// agreement takes the straight part.
TEST(AgreeingPoints, AreTheStraightPartOfAnOutlineThatAlsoBends) {
  std::mt19937 random(11);
  std::normal_distribution<double> noise(0, 0.003);
  std::vector<Point2> outline;
  for (int k = 0; k < 200; ++k) {
    const double s = 0.025 * k;
    const double bend = s < 2.2 ? 0.06 * (2.2 - s) * (2.2 - s) : 0;
    const double gap = s > 2.6 && s < 3.4 ? 0.3 : 0;
    outline.emplace_back(s, -bend - gap + noise(random));
  }
  const std::vector<Point2> straight = agreeing_points(outline, 0.02);
  EXPECT_GT(straight.size(), 75U);
  const auto fit = fit_line(straight, {});
  ASSERT_TRUE(fit.ok());
  EXPECT_NEAR(std::atan2(fit->line.direction.y(), fit->line.direction.x()), 0, 0.003);
  EXPECT_NEAR(fit->line.distance(Point2(4, 0)), 0, 0.004);
}

TEST(AgreeingPoints, AreNoneOfNone) { EXPECT_TRUE(agreeing_points({}, 1).empty()); }

}  // namespace
}  // namespace glintline
