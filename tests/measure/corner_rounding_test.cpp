#include "measure/corner_rounding.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace glintline {
namespace {

constexpr double kDegree = std::numbers::pi / 180;

// Half-light contour of a sharp wedge under a Gaussian of unit sigma, on the bisector: for 90 degrees both flanks'
// shares multiply, Phi(x)^2 = 1/2 at x = 0.5450, so the tip recedes by sqrt(2) 0.5450 = 0.7707. Those of 60 and 75
// degrees were computed by numerical convolution in two dimensions, three digits.
constexpr double kThreeDigits = 0.003;

TEST(CornerRounding, SharpTipsRecedeUnderBlurAsComputed) {
  EXPECT_NEAR(tip_recession(90 * kDegree, 0, 1), 0.7707, kThreeDigits);
  EXPECT_NEAR(tip_recession(75 * kDegree, 0, 1), 0.988, kThreeDigits);
  EXPECT_NEAR(tip_recession(60 * kDegree, 0, 1), 1.285, kThreeDigits);
}

TEST(CornerRounding, RecessionScalesWithTheBlur) {
  EXPECT_NEAR(tip_recession(70 * kDegree, 0.09, 0.03), 0.03 * tip_recession(70 * kDegree, 3, 1), 1e-6);
}

/// Share of light at `at` on the bisector of a rounded wedge, by summing the Gaussian over a grid of the plane.
double light_on_grid(double at, double half_wedge, double radius) {
  constexpr double kStep = 0.02;
  const double centre = radius / std::sin(half_wedge);
  const double touch = centre - radius * std::sin(half_wedge);
  double inside = 0;
  double all = 0;
  for (double v = -5; v <= 5; v += kStep) {
    for (double u = -5; u <= 5; u += kStep) {
      const double t = at + u;
      const double w = std::exp(-0.5 * (u * u + v * v));
      all += w;
      const bool in_wedge = t > 0 && std::abs(v) < t * std::tan(half_wedge);
      const bool in_tip = std::hypot(t - centre, v) < radius;
      inside += in_wedge && (t > touch || in_tip) ? w : 0;
    }
  }
  return inside / all;
}

double recession_on_grid(double half_wedge, double radius) {
  double low = -1;
  double high = radius / std::sin(half_wedge) + 3;
  for (int i = 0; i < 14; ++i) {
    const double middle = 0.5 * (low + high);
    (light_on_grid(middle, half_wedge, radius) < 0.5 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

// The grid's cells make some thousandths of the blur.
constexpr double kGrid = 0.006;

TEST(CornerRounding, RoundTipsRecedeAsATwoDimensionalBlurMakesThem) {
  for (const double wedge : {50.0, 60.0, 90.0}) {
    for (const double radius : {0.5, 1.0, 3.0}) {
      EXPECT_NEAR(tip_recession(wedge * kDegree, radius, 1), recession_on_grid(wedge / 2 * kDegree, radius), kGrid)
          << wedge << " degrees, radius " << radius;
    }
  }
}

/// Radius of curvature, at its apex, of the contour that passes half light on the bisector. With light F(t, v) = mean of
/// [erf((h - v) / sqrt 2) + erf((h + v) / sqrt 2)] / 2 over the blur along t, h(t) the half-width, the contour's second
/// derivative is -F_vv / F_t: -2 h phi(h) against u erf(h / sqrt 2) under the mean (unit blur).
double apparent_radius(double half_wedge, double radius) {
  const double centre = radius / std::sin(half_wedge);
  const double touch = centre - radius * std::sin(half_wedge);
  const auto half_width = [&](double t) {
    if (t <= centre - radius) return 0.0;
    return t >= touch ? t * std::tan(half_wedge) : std::sqrt(std::max(0.0, radius * radius - (t - centre) * (t - centre)));
  };
  struct Derivatives { double light, along, aside_twice; };
  const auto at = [&](double t) {
    Derivatives d{0, 0, 0};
    double all = 0;
    for (double u = -7; u <= 7; u += 0.002) {
      const double w = std::exp(-0.5 * u * u);
      const double h = half_width(t + u);
      all += w;
      d.light += w * std::erf(h / std::numbers::sqrt2);
      d.along += w * u * std::erf(h / std::numbers::sqrt2);
      d.aside_twice += -2 * w * h * std::exp(-0.5 * h * h) / std::sqrt(2 * std::numbers::pi);
    }
    return Derivatives{d.light / all, d.along / all, d.aside_twice / all};
  };
  double low = -2;
  double high = centre + 6;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (at(middle).light < 0.5 ? low : high) = middle;
  }
  const Derivatives apex = at(low);
  return apex.along / -apex.aside_twice;
}

// The apparent radius of a blurred corner, in blur sigmas, computed elsewhere: rows of true radius 0, 1, 2, 3, 5, 10.
// It is a third quantity beside true radius and recession; here it proves that the test's own picture of a blurred
// wedge, which the recessions above are held to, is the right one.
TEST(CornerRounding, TestsOwnWedgeShowsTheComputedApparentRadii) {
  constexpr double kRadii[] = {0, 1, 2, 3, 5, 10};
  constexpr double kSquare[] = {1.371, 1.556, 2.088, 2.906, 4.897, 9.946};
  constexpr double kSixty[] = {0.849, 1.129, 1.856, 2.835, 4.896, 9.946};
  for (int i = 0; i < 6; ++i) {
    EXPECT_NEAR(apparent_radius(45 * kDegree, kRadii[i]), kSquare[i], 0.01 * kSquare[i] + 0.01) << kRadii[i];
    EXPECT_NEAR(apparent_radius(30 * kDegree, kRadii[i]), kSixty[i], 0.01 * kSixty[i] + 0.01) << kRadii[i];
  }
}

TEST(CornerRounding, WithoutBlurIsPlainGeometry) {
  EXPECT_NEAR(tip_recession(60 * kDegree, 0.1, 0), 0.1, 1e-12);
  EXPECT_NEAR(tip_recession(90 * kDegree, 0.1, 0), 0.1 * (std::numbers::sqrt2 - 1), 1e-12);
}

TEST(CornerRounding, RadiusUndoesRecession) {
  for (const double wedge : {45.0, 60.0, 75.0, 90.0, 110.0}) {
    for (const double radius : {0.02, 0.05, 0.2}) {
      for (const double blur : {0.01, 0.02, 0.04}) {
        const auto found = tip_radius(wedge * kDegree, tip_recession(wedge * kDegree, radius, blur), blur);
        ASSERT_TRUE(found) << wedge << " " << radius << " " << blur;
        // A radius under the blur hardly moves the tip: quadrature errors grow there.
        EXPECT_NEAR(*found, radius, 1e-4 + 0.002 * blur) << wedge << " " << radius << " " << blur;
      }
    }
  }
}

TEST(CornerRounding, HasNoRadiusWhereASharpTipRecedesFurther) {
  EXPECT_FALSE(tip_radius(60 * kDegree, 0.01, 0.02));
  EXPECT_TRUE(tip_radius(60 * kDegree, 0.03, 0.02));
}

}  // namespace
}  // namespace glintline
