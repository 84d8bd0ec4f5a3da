#include "judge/wedge.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "judge/common_practice.h"

namespace glintline {
namespace {

constexpr double kDeg = M_PI / 180;
constexpr double kExact = 1e-12;

Quantity with_u(double value, double u) { return {value, {{Source::kEdge, u}}}; }

CutterMeasurement worn(double radius_um) {
  CutterMeasurement c;
  c.edge_radius_um = with_u(radius_um, 4);
  c.edge_angle_rad = with_u(30 * kDeg, 0.2 * kDeg);
  c.chips_searched = true;
  return c;
}

Chip chip(double depth_mm, double u_mm = 0.01) {
  return {.at_mm = 2, .depth_mm = with_u(depth_mm, u_mm), .width_mm = with_u(0.5, 0.02), .area_mm2 = {}};
}

/// A rounded wedge drawn point by point: flat top along -x at height 0, bevel falling back at the wedge angle, both
/// touched by a circle. No formula of the code under test.
struct DrawnWedge {
  double foremost = -1e9;  ///< x of the outline; the lost tip is the origin
  double flat_end = 0;     ///< x where the circle leaves the top
};

DrawnWedge drawn(double radius, double wedge_rad) {
  // The circle's centre is as far from the top as from the bevel: walk down the bisector until the distance is right.
  double lower = 0, upper = 100 * radius;
  const double bisector = wedge_rad / 2;
  const auto centre = [&](double way) { return std::pair(-way * std::cos(bisector), -way * std::sin(bisector)); };
  for (int i = 0; i < 200; ++i) {
    const double middle = 0.5 * (lower + upper);
    (-centre(middle).second < radius ? lower : upper) = middle;
  }
  const auto [x, z] = centre(lower);
  DrawnWedge result;
  result.flat_end = x;
  constexpr int kSteps = 200000;
  for (int i = 0; i <= kSteps; ++i) {
    // From the top's normal to the bevel's normal, which points forward and down.
    const double normal = M_PI / 2 - (M_PI - wedge_rad) * i / kSteps;
    result.foremost = std::max(result.foremost, x + radius * std::cos(normal));
  }
  EXPECT_NEAR(z, -radius, 1e-9 * radius);
  return result;
}

TEST(Wedge, LosesItsTipAsADrawnOneDoes) {
  for (const double degrees : {37.0, 53.0, 60.0, 75.0, 89.0}) {
    const DrawnWedge w = drawn(50, degrees * kDeg);
    EXPECT_NEAR(lost_tip(50, degrees * kDeg), -w.foremost, 1e-6) << degrees;
    EXPECT_NEAR(w.foremost - w.flat_end, 50, 1e-6) << "the flat begins a radius behind the outline";
  }
}

// A file a fifth proud (Lower Austria Chamber of Agriculture): its tangent at the top plate, by drawing the circle.
TEST(Wedge, OfAFileAFifthProudIs53Degrees) {
  const double diameter = 5.2;
  const double over_centre = diameter / 2 - diameter / 5;  // 1.04 mm stand over the plate (worked value, arithmetic)
  const double tangent = std::atan2(std::sqrt(diameter * diameter / 4 - over_centre * over_centre), over_centre);
  EXPECT_NEAR(wedge_of_file_rad(0.2), tangent, kExact);
  EXPECT_NEAR(wedge_of_file_rad(0.2) / kDeg, 53.13, 0.01);
  // A felling handbook names 60 for the top plate's cutting angle: both lie in what is assumed.
  const Quantity assumed = wedge_angle_rad();
  EXPECT_LT(std::abs(assumed.value - 60 * kDeg), 2 * assumed.u());
  EXPECT_LT(std::abs(assumed.value - wedge_of_file_rad(0.2)), 2 * assumed.u());
}

TEST(Wedge, NeedsOneRadiusSquareToTheEdge) {
  const auto need = edge_need(worn(60), limits_of({}));
  ASSERT_TRUE(need);
  EXPECT_NEAR(need->back_mm.value, 0.060 / std::cos(30 * kDeg), kExact);
  EXPECT_EQ(need->reason, "the rounding");
  EXPECT_TRUE(need->proven);
}

TEST(Wedge, NeedsAChipsDepthAndTheRoundingOfItsFloor) {
  CutterMeasurement c = worn(60);
  c.chips = {chip(0.15), chip(0.30)};
  const auto need = edge_need(c, limits_of({}));
  ASSERT_TRUE(need);
  EXPECT_NEAR(need->back_mm.value, 0.360 / std::cos(30 * kDeg), kExact);
  EXPECT_EQ(need->reason, "a chip");
  EXPECT_GT(need->back_mm.u(), 0.01);
  c.chips = {chip(0.03)};  // proven harmless
  EXPECT_EQ(edge_need(c, limits_of({}))->reason, "the rounding");
  c.chips = {chip(0.11)};  // too close to 0.10 to call: reckoned with, and said
  EXPECT_FALSE(edge_need(c, limits_of({}))->proven);
}

TEST(Wedge, NeedsNothingWhereTheEdgeIsProvenSharpAndSaysWhereItWasNotSeen) {
  EXPECT_EQ(edge_need(worn(10), limits_of({}))->back_mm.value, 0);
  EXPECT_FALSE(edge_need(CutterMeasurement{}, limits_of({})));
  CutterMeasurement unlit;
  unlit.chips_searched = true;
  unlit.edge_radius_limit_um = 35;
  const auto need = edge_need(unlit, limits_of({}));
  ASSERT_TRUE(need);
  EXPECT_GT(need->back_mm.value, 0);
  EXPECT_GT(need->back_mm.value + 2 * need->back_mm.u(), 0.035);
}

// 5.2 mm wide, 36 degrees back to 30: 5.2 (tan 36 - tan 30) = 0.776 mm at the corner (arithmetic).
TEST(Wedge, PaysForATooSteepEdgeAtTheCorner) {
  CutterMeasurement c = worn(60);
  c.edge_angle_rad = with_u(36 * kDeg, 0.2 * kDeg);
  const auto need = edge_need(c, limits_of({}), 5.2);
  EXPECT_EQ(need->reason, "the edge angle");
  EXPECT_NEAR(need->back_mm.value, 0.060 / std::cos(36 * kDeg) + 5.2 * (std::tan(36 * kDeg) - std::tan(30 * kDeg)),
              kExact);
  c.edge_angle_rad = with_u(33 * kDeg, 0.2 * kDeg);  // inside 25 to 35 (ICFR, MSA): left as it is
  EXPECT_EQ(edge_need(c, limits_of({}), 5.2)->reason, "the rounding");
}

}  // namespace
}  // namespace glintline
