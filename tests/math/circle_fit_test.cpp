#include "math/circle_fit.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace glintline {
namespace {

constexpr double kExact = 1e-9;  // algebra in double precision

// Gander, Golub & Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994), the six points of section 1.
const std::vector<Point2> kGander{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}};

constexpr double kPublished = 1e-6;  // digits printed there, or recomputed to six places

std::vector<Point2> arc(std::mt19937& random, int count, double span_rad, double sigma) {
  std::normal_distribution<double> noise(0, sigma);
  std::vector<Point2> points;
  for (int i = 0; i < count; ++i) {
    const double angle = 0.7 + span_rad * i / (count - 1);
    points.push_back(Point2(30, 20) + (5 + noise(random)) * Point2(std::cos(angle), std::sin(angle)));
  }
  return points;
}

TEST(CircleFit, GivesThePublishedGeometricFitOfGanderGolubAndStrebel) {
  const auto fit = fit_circle(kGander);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->circle.centre.x(), 4.739782, kPublished);
  EXPECT_NEAR(fit->circle.centre.y(), 2.983533, kPublished);
  EXPECT_NEAR(fit->circle.radius, 4.714226, kPublished);
  EXPECT_NEAR(fit->sigma * fit->sigma * 3, 1.227599, kPublished);  // sum of squares, six points less three parameters
}

// The Taubin fit of the same points, recomputed independently to six places.
TEST(CircleFit, StartsFromTheTaubinFit) {
  const auto circle = fit_circle_algebraic(kGander);
  ASSERT_TRUE(circle);
  EXPECT_NEAR(circle->centre.x(), 4.613933, kPublished);
  EXPECT_NEAR(circle->centre.y(), 2.795209, kPublished);
  EXPECT_NEAR(circle->radius, 4.879213, kPublished);
}

TEST(CircleFit, IsExactOnACircleWithoutNoiseWhateverTheLoss) {
  std::mt19937 random(1);
  const std::vector<Point2> points = arc(random, 30, 2.0, 0);
  for (const Loss loss : {Loss::kSquares, Loss::kHuber, Loss::kTukey}) {
    const auto fit = fit_circle(points, {.loss = loss});
    ASSERT_TRUE(fit);
    EXPECT_NEAR((fit->circle.centre - Point2(30, 20)).norm(), 0, kExact);
    EXPECT_NEAR(fit->circle.radius, 5, kExact);
  }
}

// A rivet head whose shaded side was traced on its shadow.
TEST(CircleFit, TukeyIgnoresAThirdOfTheOutlineBeingElsewhere) {
  std::mt19937 random(2);
  std::vector<Point2> points = arc(random, 150, 6.0, 0.02);
  for (int i = 40; i < 90; ++i) points[i] += 0.8 * (points[i] - Point2(30, 20)).normalized();
  const auto fit = fit_circle(points, {.loss = Loss::kTukey});
  ASSERT_TRUE(fit);
  EXPECT_NEAR((fit->circle.centre - Point2(30, 20)).norm(), 0, 0.02);  // a point's sigma; the mean's is a tenth
  EXPECT_NEAR(fit->circle.radius, 5, 0.02);
  EXPECT_EQ(fit->weights[60], 0);
  EXPECT_GT(fit->weights[10], 0);
}

struct Honesty {
  double radius = 0;
  double x = 0;
};

Honesty share_within_two_u(double span_rad, double sigma, const FitOptions& options, bool strays) {
  constexpr int kRuns = 1000;
  Honesty h;
  for (int run = 0; run < kRuns; ++run) {
    std::mt19937 random(run);
    std::vector<Point2> points = arc(random, 60, span_rad, sigma);
    if (strays) {
      for (int i = 20; i < 32; ++i) points[i] += Point2(0.9, 0.4);
    }
    const auto fit = fit_circle(points, options);
    if (!fit) continue;
    h.radius += std::abs(fit->circle.radius - 5) <= 2 * fit->u_radius();
    h.x += std::abs(fit->circle.centre.x() - 30) <= 2 * std::sqrt(fit->covariance(0, 0));
  }
  return {h.radius / kRuns, h.x / kRuns};
}

// 2 u with 57 degrees of freedom hold 95.0 %; 0.03 is four sigma of 1000 runs.
TEST(CircleFit, CovarianceIsHonestOnWholeCirclesAndArcs) {
  for (const double span : {6.0, 2.0, 1.2}) {
    const Honesty h = share_within_two_u(span, 0.02, {}, false);
    EXPECT_NEAR(h.radius, 0.95, 0.03) << span;
    EXPECT_NEAR(h.x, 0.95, 0.03) << span;
  }
}

TEST(CircleFit, RobustCovarianceIsHonestWithAndWithoutStrays) {
  for (const bool strays : {false, true}) {
    const Honesty h = share_within_two_u(6.0, 0.02, {.loss = Loss::kTukey}, strays);
    EXPECT_GT(h.radius, 0.92);
    EXPECT_LT(h.radius, 0.98);
    EXPECT_GT(h.x, 0.92);
  }
}

// Standard deviation of the radius of short arcs, K sigma / sqrt(n) with K 24, 5.6, 2.3 for 60, 120, 180 degrees:
// computed beforehand by error propagation for dense arcs, n = 60 here costs a few per cent.
TEST(CircleFit, KnowsHowLittleAShortArcTells) {
  constexpr double kSigma = 1e-4;
  const auto k_of = [&](double span_deg) {
    std::mt19937 random(4);
    std::vector<double> k;
    double sum = 0;
    constexpr int kRuns = 40;
    for (int run = 0; run < kRuns; ++run) {
      const auto fit = fit_circle(arc(random, 60, span_deg * M_PI / 180, kSigma));
      sum += fit->u_radius() * std::sqrt(60.0) / kSigma / kRuns;
    }
    return sum;
  };
  EXPECT_NEAR(k_of(60), 24, 0.08 * 24);
  EXPECT_NEAR(k_of(120), 5.6, 0.08 * 5.6);
  EXPECT_NEAR(k_of(180), 2.3, 0.08 * 2.3);
}

TEST(CircleFit, RefusesLinesAndTooFewPoints) {
  std::vector<Point2> line;
  for (int i = 0; i < 10; ++i) line.emplace_back(i, 2 * i);
  EXPECT_EQ(fit_circle(line).error().fault, Fault::kNotMeasurable);
  EXPECT_EQ(fit_circle(line, {.loss = Loss::kTukey}).error().fault, Fault::kNotMeasurable);
  EXPECT_FALSE(fit_circle(std::vector<Point2>{{0, 0}, {1, 0}, {0, 1}}));
}

}  // namespace
}  // namespace glintline
