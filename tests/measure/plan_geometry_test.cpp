#include "measure/plan_geometry.h"

#include <gtest/gtest.h>

#include <cmath>

#include "measure/plan_measure.h"

namespace glintline {
namespace {

constexpr double kDegree = M_PI / 180;
/// Outlines are placed exactly: what remains is the fits' arithmetic.
constexpr double kExactMm = 1e-6;
constexpr double kExactRad = 1e-6;

/// A plate of known shape under a tilted camera; lengths mm, board frame.
struct KnownPlate {
  double length = 8;       ///< rear end to working corner, along the chain
  double width = 5.5;
  double angle = 30 * kDegree;
  double height = 2.7;     ///< at the working corner
  double slope = 6 * kDegree;
  double turn = 20 * kDegree;  ///< running direction against the board's X
  bool right = true;

  [[nodiscard]] Point2 running() const { return {std::cos(turn), std::sin(turn)}; }
  /// Board point `back` mm behind the working corner and `in` mm inwards of the outer side.
  [[nodiscard]] Point3 at(double back, double in) const {
    const Point2 aside = (right ? -1 : 1) * turned_quarter(running());
    const Point2 p = Point2(20, 15) - back * running() + in * aside;
    return {p.x(), p.y(), -(height - back * std::tan(slope))};
  }
};

CameraView tilted_view() {
  CameraView view;
  view.camera.fx = view.camera.fy = 6000;
  view.camera.cx = 2000;
  view.camera.cy = 1500;
  view.camera_from_board.rotation =
      (Eigen::AngleAxisd(0.08, Point3::UnitX()) * Eigen::AngleAxisd(-0.05, Point3::UnitY())).toRotationMatrix();
  view.camera_from_board.translation = Point3(-20, -16, 80);
  return view;
}

PlateOutline outline_of(const KnownPlate& plate, const CameraView& view) {
  PlateOutline out;
  const double inner_back = plate.width * std::tan(plate.angle);
  for (int k = 0; k <= 60; ++k) {
    const double t = k / 60.0;
    out.rear_px.push_back(view.pixel(plate.at(plate.length, plate.width * t)));
    out.outer_side_px.push_back(view.pixel(plate.at(plate.length * (1 - t), 0)));
    out.inner_side_px.push_back(view.pixel(plate.at(plate.length + (inner_back - plate.length) * t, plate.width)));
  }
  for (int k = 0; k <= 300; ++k) {
    const double t = k / 300.0;
    const Point2 px = view.pixel(plate.at(inner_back * t, plate.width * t));
    out.contour.push_back({px, true, px});
  }
  out.corner_px = view.pixel(plate.at(0, 0));
  return out;
}

PlanSpace space_of(const KnownPlate& plate, const CameraView& view) {
  PlanSpace space;
  space.view = view;
  space.height_mm = plate.height;
  space.slope_rad = plate.slope;
  return space;
}

TEST(PlanGeometry, RecoversLengthAngleAndHandOnTheSlopingPlane) {
  const CameraView view = tilted_view();
  for (const bool right : {true, false}) {
    for (const double turn_deg : {0.0, 20.0, 95.0, 180.0, -130.0}) {
      KnownPlate plate;
      plate.right = right;
      plate.turn = turn_deg * kDegree;
      const auto g = plan_geometry(outline_of(plate, view), space_of(plate, view));
      ASSERT_TRUE(g) << turn_deg;
      EXPECT_NEAR(g->whole_length, plate.length, kExactMm) << turn_deg;
      EXPECT_NEAR(g->edge_angle, plate.angle, kExactRad) << turn_deg;
      EXPECT_EQ(g->right_hand, right) << turn_deg;
      EXPECT_GT(g->running.dot(plate.running()), 1 - 1e-9) << turn_deg;
    }
  }
}

// Stand-off, from similar triangles: a plate assumed dh lower than it is looks longer by dh over the eye's height.
TEST(PlanGeometry, ScalesWithTheStandOffAsSimilarTrianglesDo) {
  const CameraView view = tilted_view();
  KnownPlate plate;
  plate.slope = 0;
  PlanSpace space = space_of(plate, view);
  const double eye = -view.eye().z();
  const double dh = 0.5;
  space.height_mm = plate.height - dh;
  const auto g = plan_geometry(outline_of(plate, view), space);
  ASSERT_TRUE(g);
  const double expected = plate.length * (eye - plate.height + dh) / (eye - plate.height);
  EXPECT_NEAR(g->whole_length, expected, 1e-4);
}

TEST(PlanMeasure, WidensWithAnUnknownStandOffAndKeepsTheBudget) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlanOutlines outlines;
  outlines.plates.push_back(outline_of(plate, view));
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  glintline::Setup known;
  known.stand_off = KnownLength{plate.height, 0.15};
  const Measurements with = measure_plan(outlines, pose, known);
  const Measurements without = measure_plan(outlines, pose, glintline::Setup{});
  ASSERT_EQ(with.cutters.size(), 1U);
  ASSERT_TRUE(with.cutters[0].length_mm);
  EXPECT_EQ(with.cutters[0].hand, Hand::kRight);
  EXPECT_NEAR(with.cutters[0].length_mm->value, plate.length, kCoverage * with.cutters[0].length_mm->u());
  EXPECT_NEAR(without.cutters[0].length_mm->value, plate.length, kCoverage * without.cutters[0].length_mm->u());
  EXPECT_GT(without.cutters[0].length_mm->u(), 1.2 * with.cutters[0].length_mm->u());
}

TEST(PlanMeasure, GivesATagsNumberToTheNearestCutter) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlanOutlines outlines;
  outlines.plates.push_back(outline_of(plate, view));
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  const Point2 tag = view.pixel(Point3(22, 22, 0));
  pose.tags.push_back({14, {tag, tag + Point2(50, 0), tag + Point2(50, 50), tag + Point2(0, 50)}});
  const Measurements m = measure_plan(outlines, pose, glintline::Setup{});
  ASSERT_EQ(m.cutters.size(), 1U);
  EXPECT_EQ(m.cutters[0].number, 14);
}

}  // namespace
}  // namespace glintline
