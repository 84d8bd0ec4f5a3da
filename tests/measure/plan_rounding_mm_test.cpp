#include "measure/plan_rounding_mm.h"

#include <gtest/gtest.h>

#include <cmath>

namespace glintline {
namespace {

constexpr double kDegree = M_PI / 180;
constexpr double kPxPerMm = 80;
constexpr double kUSlope = 1.7 * kDegree;
/// Relative standard uncertainty of every strip.
constexpr double kUStrip = 0.05;
constexpr double kHorizon = 46 * kDegree;
/// Where the fit has a rounding begin to shine, and the middle of where it may do so, against the flat's normal.
constexpr double kTracedStart = 4 * kDegree;
constexpr double kUsualStart = 5.5 * kDegree;

/// A straight edge along x, 5 mm long, seen from straight above and far away, its strips all as wide as a rounding of
/// `radius_um` makes them at `px_per_mm`.
struct StraightEdge {
  PlateOutline plate;
  PlanGeometry geometry;
  PlanSpace space;

  explicit StraightEdge(double radius_um, double px_per_mm = kPxPerMm) {
    constexpr double kEdgeMm = 5;
    constexpr double kDistance = 1000;
    space.view.camera.fx = space.view.camera.fy = px_per_mm * kDistance;
    space.view.camera_from_board.translation = Point3(0, 0, kDistance);
    geometry.running = Point2(0, 1);
    geometry.corner = Point2(0, 0);
    geometry.edge = {Point2(0, 0), Point2(1, 0)};
    geometry.edge_length = kEdgeMm;
    geometry.mm_per_px = 1 / px_per_mm;
    plate.corner_px = Point2(0, 0);
    plate.strip.start_rad = kTracedStart;
    plate.strip.horizon_rad = kHorizon;
    plate.strip.blur_px = 0.7;
    plate.strip.mirror_told = true;
    for (double s = 0.05; s < kEdgeMm; s += 0.1) plate.edge.push_back(station(s, 0, radius_um, px_per_mm));
  }

  static EdgeStation station(double s_mm, double behind_mm, double radius_um, double px_per_mm = kPxPerMm) {
    EdgeStation out;
    out.outline_px = px_per_mm * Point2(s_mm, -behind_mm);
    out.line_px = out.outline_px;
    out.outline_seen = true;
    out.strip = StripState::kLit;
    // The lit part is as wide as it is; the fit takes the strip for what that part would be of, if it began early.
    const double lit = std::sin(kHorizon) - std::sin(kUsualStart);
    out.strip_px = radius_um / 1000 * px_per_mm * lit / (std::sin(kHorizon) - std::sin(kTracedStart));
    out.u_strip_px = kUStrip * out.strip_px;
    out.strip_limit_px = 1.1 * out.strip_px;
    return out;
  }

  [[nodiscard]] EdgeRounding said() const { return edge_rounding(plate, geometry, space, {}, kUSlope); }
};

TEST(EdgeRoundingMm, TakesTheRadiusFromTheStripsWidth) {
  const EdgeRounding said = StraightEdge(80).said();
  ASSERT_TRUE(said.median_um);
  EXPECT_NEAR(said.median_um->value, 80, 0.5);
}

// The stations' radii are smoothed along the edge: a tenth of it is rounder by as much as none of them tells, 1.28
// standard uncertainties where all agree.
TEST(EdgeRoundingMm, WhatTheStationsLeaveOpenIsAPartOfTheirScatter) {
  const EdgeRounding said = StraightEdge(80).said();
  ASSERT_TRUE(said.p90_um);
  EXPECT_NEAR(said.p90_um->value, 80 * (1 + 1.2816 * kUStrip), 0.5);
}

// A lamp whose image lies evenly about the normal that halves the angle between it and the sight line; the fit took the
// image's inner end for the flat's.
TEST(EdgeRoundingMm, ALampThatLightsAPartTellsTheRadiusByItsMiddle) {
  StraightEdge edge(80);
  const double whole = edge.said().median_um->value;
  edge.plate.strip.partly = LitBand{5 * kDegree, 25 * kDegree};
  const EdgeRounding part = edge.said();
  ASSERT_TRUE(part.median_um);
  const double middle = 1 - (std::sin(5 * kDegree) + std::sin(25 * kDegree)) / 2;
  const double lamp = kHorizon - 35 * kDegree / 2;
  EXPECT_NEAR(part.median_um->value, whole * middle / (1 - std::sin(lamp)), 0.5);
  EXPECT_GT(part.median_um->u() / part.median_um->value, 0.12);
}

TEST(EdgeRoundingMm, AnUnknownShapeOfTheLightWidensTheBudget) {
  StraightEdge edge(80);
  const double u = edge.said().median_um->u();
  edge.plate.strip.u_light = 0.1;
  EXPECT_NEAR(edge.said().median_um->u(), std::hypot(u, 8), 0.05);
}

// Known to half of itself only, a radius is no value: it says above what nothing would have gone unseen.
TEST(EdgeRoundingMm, BoundsWhatItHardlyKnows) {
  StraightEdge edge(80);
  edge.plate.strip.u_light = 0.3;
  const EdgeRounding said = edge.said();
  EXPECT_FALSE(said.median_um);
  EXPECT_FALSE(said.p90_um);
  ASSERT_TRUE(said.limit_um);
  EXPECT_GT(*said.limit_um, 80 * 1.6);
  EXPECT_NE(said.missing.find("no rounding seen above"), std::string::npos);
  EXPECT_TRUE(std::isnan(said.chart[15].radius_um));
}

// 45 um a pixel, over the wide card: 200 um are more than four pixels, but no chain in use is so dull.
TEST(EdgeRoundingMm, TakesNoWideStripOfACoarsePictureForARounding) {
  const EdgeRounding said = StraightEdge(200, 22).said();
  EXPECT_FALSE(said.median_um);
  EXPECT_NE(said.missing.find("come closer"), std::string::npos);
  EXPECT_TRUE(StraightEdge(200, 35).said().median_um);
}

// Nothing of a filed edge stands ahead of its line: those strips are of something below it.
TEST(EdgeRoundingMm, LeavesOutStripsAheadOfTheLine) {
  StraightEdge edge(80);
  for (std::size_t k = 10; k < 22; ++k) {
    const double s = edge.plate.edge[k].outline_px.x() / kPxPerMm;
    edge.plate.edge[k] = StraightEdge::station(s, -0.04, 150);
  }
  const EdgeRounding said = edge.said();
  ASSERT_TRUE(said.p90_um);
  EXPECT_NEAR(said.p90_um->value, StraightEdge(80).said().p90_um->value, 0.5);
  EXPECT_TRUE(std::isnan(said.chart[15].radius_um));
}

TEST(EdgeRoundingMm, BoundsANarrowStripUnlessTheFlatHidesItsBeginning) {
  StraightEdge edge(20);
  const EdgeRounding bound = edge.said();
  EXPECT_FALSE(bound.median_um);
  ASSERT_TRUE(bound.limit_um);
  EXPECT_GT(*bound.limit_um, 20);
  edge.plate.strip.flat_flashes = true;
  const EdgeRounding hidden = edge.said();
  EXPECT_FALSE(hidden.limit_um);
  EXPECT_NE(hidden.missing.find("lower the lamp"), std::string::npos);
}

}  // namespace
}  // namespace glintline
