#include "measure/plan_geometry.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <random>

#include "measure/plan_measure.h"

namespace glintline {
namespace {

constexpr double kDegree = M_PI / 180;
/// Outlines are placed exactly: what remains is the fits' arithmetic.
constexpr double kExactMm = 1e-6;
constexpr double kExactRad = 1e-6;

/// A plate of known shape under a tilted camera; lengths mm, board frame.
struct KnownPlate {
  double length = 8;  ///< rear end to working corner, along the chain
  double width = 5.5;
  double angle = 30 * kDegree;
  double height = 2.7;  ///< at the working corner
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
    out.contour.push_back({px, true, px, px});
  }
  out.corner_px = view.pixel(plate.at(0, 0));
  out.rear_rim_seen = true;
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

// What is seen of a rear end may lie on one side of the plate, and short plates are hardly longer than wide.
TEST(PlanGeometry, HoldsWhereHardlyMoreThanOneEndOfTheRearIsSeen) {
  const CameraView view = tilted_view();
  for (const bool right : {true, false}) {
    for (const bool at_outer_side : {true, false}) {
      KnownPlate plate;
      plate.right = right;
      plate.length = 5;
      plate.width = 6;
      PlateOutline outline = outline_of(plate, view);
      auto& rear = outline.rear_px;
      const auto few = static_cast<std::ptrdiff_t>(rear.size() / 6);
      at_outer_side ? rear.erase(rear.begin() + few, rear.end()) : rear.erase(rear.begin(), rear.end() - few);
      const auto g = plan_geometry(outline, space_of(plate, view));
      ASSERT_TRUE(g) << right << at_outer_side;
      EXPECT_NEAR(g->whole_length, plate.length, kExactMm);
      EXPECT_NEAR(g->edge_angle, plate.angle, kExactRad);
      EXPECT_EQ(g->right_hand, right);
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

// Three looks at one plate, whose rear end two of them see at other places than the first.
TEST(PlanMeasure, TakesWhatTwoOtherLooksSayAndDoubtsItByHowFarAllDiffer) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  glintline::Setup known;
  known.stand_off = KnownLength{plate.height, 0.15};
  const auto length = [&](const std::vector<double>& again) {
    PlanOutlines outlines;
    outlines.plates.push_back(outline_of(plate, view));
    for (const double longer : again) {
      KnownPlate other = plate;
      other.length += longer;
      outlines.plates[0].again.push_back(outline_of(other, view));
    }
    return measure_plan(outlines, pose, known).cutters.at(0).length_mm.value();
  };
  const Quantity alone = length({});
  const Quantity agreed = length({0, 0});
  EXPECT_DOUBLE_EQ(agreed.value, alone.value);
  EXPECT_DOUBLE_EQ(agreed.u(), alone.u());
  // Two against one: the middle one of 0, 0.4 and 0.5, and the standard deviation of the three, 0.265.
  const Quantity outvoted = length({0.4, 0.5});
  EXPECT_NEAR(outvoted.value - alone.value, 0.4, 0.01);
  EXPECT_NEAR(std::hypot(alone.u(), 0.265), outvoted.u(), 0.01);
  // One against one: the first stands, in doubt by as much.
  const Quantity split = length({0.4});
  EXPECT_DOUBLE_EQ(split.value, alone.value);
  EXPECT_NEAR(std::hypot(alone.u(), 0.4 / std::sqrt(2.0)), split.u(), 0.01);
}

// Lines of links and block that pass for a plate: longer than a new one, or cut off square.
TEST(PlanMeasure, LeavesOutWhatHasNoTopPlatesShape) {
  const CameraView view = tilted_view();
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  const auto measured = [&](double length, double angle) {
    KnownPlate plate;
    plate.length = length;
    plate.angle = angle;
    PlanOutlines outlines;
    outlines.plates.push_back(outline_of(plate, view));
    return measure_plan(outlines, pose, glintline::Setup{}).cutters.at(0).edge_angle_rad.has_value();
  };
  EXPECT_TRUE(measured(11, 30 * kDegree));
  EXPECT_TRUE(measured(8, 10 * kDegree));
  EXPECT_FALSE(measured(12.6, 30 * kDegree));
  EXPECT_FALSE(measured(8, 1 * kDegree));
}

// Another line may be the rear end: no length then, and everything that the edge tells all the same.
TEST(PlanMeasure, KeepsTheEdgeWhereTheRearEndIsInDoubt) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlanOutlines outlines;
  outlines.plates.push_back(outline_of(plate, view));
  outlines.plates[0].rear_in_doubt = true;
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  const Measurements m = measure_plan(outlines, pose, glintline::Setup{});
  ASSERT_EQ(m.cutters.size(), 1U);
  EXPECT_FALSE(m.cutters[0].length_mm);
  EXPECT_FALSE(m.cutters[0].whole_length_mm);
  ASSERT_TRUE(m.cutters[0].edge_angle_rad);
  EXPECT_NEAR(m.cutters[0].edge_angle_rad->value, plate.angle, kCoverage * m.cutters[0].edge_angle_rad->u());
  EXPECT_NE(m.cutters[0].missing[0].find("rear end"), std::string::npos);
}

// The outer side is relieved towards the rear, the inner one is not: their bisector lies 1.5 degrees aslant, the links
// tell the chain.
TEST(PlanGeometry, TakesTheChainFromTheLinksWhereTheSidesTaperUnalike) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  for (std::size_t k = 0; k < outline.outer_side_px.size(); ++k) {
    const double back = plate.length * (1 - static_cast<double>(k) / 60);
    outline.outer_side_px[k] = view.pixel(plate.at(back, back * std::tan(3 * kDegree)));
  }
  PlanSpace space = space_of(plate, view);
  const auto g_alone = plan_geometry(outline, space);
  for (const double back : {-3.0, 15.0}) {
    Point3 link = plate.at(back, 2);
    link.z() = 2 - plate.height;
    space.links_px.push_back(view.pixel(link));
  }
  const auto g = plan_geometry(outline, space);
  ASSERT_TRUE(g && g_alone);
  EXPECT_GT(std::abs(g_alone->edge_angle - plate.angle), 1.3 * kDegree);
  EXPECT_NEAR(g->edge_angle, plate.angle, 0.1 * kDegree);
}

// Where sides and links contradict each other, one of them was misread: the angle reaches both.
TEST(PlanGeometry, ReachesBothWhereSidesAndLinksContradictEachOther) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  const PlateOutline outline = outline_of(plate, view);
  const auto alone = plan_geometry(outline, space_of(plate, view));
  for (const double aside : {4.0, 8.0}) {
    PlanSpace space = space_of(plate, view);
    for (const double back : {-3.0, 15.0}) {
      Point3 link = plate.at(back, 2 + back * std::tan(aside * kDegree));
      link.z() = 2 - plate.height;
      space.links_px.push_back(view.pixel(link));
    }
    const auto both = plan_geometry(outline, space);
    ASSERT_TRUE(alone && both);
    if (aside > 6) {
      EXPECT_EQ(both->edge_angle, alone->edge_angle);
    } else {
      EXPECT_NEAR(std::abs(both->edge_angle - alone->edge_angle), 0.75 * aside * kDegree, 0.1 * kDegree);
      space.turns = 1;  // by one standard uncertainty
      const auto turned = plan_geometry(outline, space);
      ASSERT_TRUE(turned);
      EXPECT_GT(kCoverage * std::abs(turned->edge_angle - both->edge_angle), 0.75 * aside * kDegree);
    }
  }
}

// Rear ends are cut square: one that lies askew by 1.7 degrees has followed something else in a part, and its budget
// reaches both ends. A square one keeps the lines' own.
TEST(PlanGeometry, CarriesHowFarARearEndLiesAskew) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  const auto square = plan_geometry(outline, space_of(plate, view));
  for (std::size_t k = 0; k < outline.rear_px.size(); ++k) {
    const double t = static_cast<double>(k) / 60;
    outline.rear_px[k] = view.pixel(plate.at(plate.length + 0.16 * (1 - t), plate.width * t));
  }
  const auto askew = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(square && askew);
  EXPECT_LT(square->u_rear, 0.005);
  EXPECT_LT(std::abs(askew->whole_length - plate.length), 2 * askew->u_rear);
  EXPECT_LT(askew->u_rear, 0.08);
}

// Rims of all usual radii in pictures of all usual scales: where trace tells no strip from what lies behind the plate
// (here any under two pixels) it is made up for in the mean, and its spread is what the budget says.
TEST(PlanGeometry, MakesUpForTheRimThatIsNotTold) {
  std::mt19937 random(5);
  std::uniform_real_distribution<double> radius(0, 0.4);
  for (const double focal : {2000.0, 4000.0, 8000.0}) {
    CameraView view = tilted_view();
    view.camera.fx = view.camera.fy = focal;
    const KnownPlate plate;
    const double pixel = view.mm_per_px(view.pixel(plate.at(0, 0)), plate.height);
    std::vector<double> off;
    double u = 0;
    while (off.size() < 200) {
      const double strip = (1 - std::sqrt(0.5)) * radius(random);
      if (strip >= 2 * pixel) continue;
      PlateOutline outline = outline_of(plate, view);
      outline.rear_rim_seen = false;
      for (std::size_t i = 0; i < outline.rear_px.size(); ++i) {
        const double t = static_cast<double>(i) / static_cast<double>(outline.rear_px.size() - 1);
        outline.rear_px[i] = view.pixel(plate.at(plate.length - strip, plate.width * t));
      }
      const auto g = plan_geometry(outline, space_of(plate, view));
      ASSERT_TRUE(g);
      off.push_back(g->whole_length - plate.length);
      u = g->u_rear;
    }
    const double bias = std::accumulate(off.begin(), off.end(), 0.0) / 200;
    double square = 0;
    for (const double d : off) square += (d - bias) * (d - bias) / 199;
    EXPECT_NEAR(bias, 0, 0.006) << pixel;
    EXPECT_NEAR(std::sqrt(square), u, 0.3 * u) << pixel;
  }
}

// An outline that is lost near the corner, or runs straight on over lower metal: the light beside the outer side tells
// how likely a rounded corner is, whose foremost place lies 0.3 to 0.6 mm further back; a sheet settles it.
TEST(PlanGeometry, CarriesARoundedCornerThatIsNotSeen) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  constexpr double kRoundedMm = 0.4;  // middle of 0.3 to 0.55
  for (const bool lost : {true, false}) {
    PlateOutline outline = outline_of(plate, view);
    for (std::size_t k = 0; lost && k < outline.contour.size() / 8; ++k) outline.contour[k].seen = false;
    const auto at = [&](double change, const std::optional<bool>& chisel) {
      outline.shoulder_change = change;
      PlanSpace space = space_of(plate, view);
      space.chisel = chisel;
      return *plan_geometry(outline, space);
    };
    const PlanGeometry flat = at(0.03, {});
    const PlanGeometry doubtful = at(0.45, {});
    const PlanGeometry bent = at(1.5, {});
    EXPECT_EQ(flat.working_corner.kind, lost ? CornerKind::kUnseen : CornerKind::kSharp);
    EXPECT_EQ(flat.u_hidden, 0);
    EXPECT_NEAR(flat.length, plate.length, 0.1);
    // Between two places the likelier one lies within u95, the other one not far out of it.
    const auto off = [](const PlanGeometry& g, double length) {
      return std::abs(g.length - length) / std::hypot(g.u_hidden, g.u_corner);
    };
    EXPECT_LT(off(doubtful, plate.length), 2) << lost;
    EXPECT_LT(off(doubtful, plate.length - kRoundedMm), 3) << lost;
    EXPECT_LT(off(bent, plate.length - kRoundedMm), 2) << lost;
    EXPECT_LT(off(bent, plate.length), 3) << lost;
    EXPECT_GT(doubtful.length, bent.length);
    EXPECT_EQ(at(1.5, true).length, flat.length);
    EXPECT_NEAR(at(0.03, false).length, plate.length - kRoundedMm, 0.12);
  }
}

/// The working corner broken off up to `width` along the edge: the outline stands `outer` behind the edge's line there,
/// the flat ends `flat` behind it, square to the edge.
PlateOutline broken(const KnownPlate& plate, const CameraView& view, double width, double outer, double flat) {
  PlateOutline out = outline_of(plate, view);
  const double inner_back = plate.width * std::tan(plate.angle);
  const double edge = plate.width / std::cos(plate.angle);
  for (std::size_t k = 0; k < out.contour.size(); ++k) {
    const double t = static_cast<double>(k) / 300;
    if (t * edge > width) break;
    const double shift = 1 / std::cos(plate.angle);
    out.contour[k].px = view.pixel(plate.at(inner_back * t + outer * shift, plate.width * t));
    out.contour[k].alike_px = out.contour[k].px;
    out.contour[k].flat_px = view.pixel(plate.at(inner_back * t + flat * shift, plate.width * t));
  }
  return out;
}

// Round a rounded corner's bend the outline stands back too, and lower metal ahead of it makes the wall: where the light
// speaks for a bend, no more than one takes is no broken corner. A deeper loss is, and so is any on a chisel.
TEST(PlanGeometry, CallsNoCornerBrokenThatMayBeABend) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  const auto kind = [&](double deep, double change, const std::optional<bool>& chisel) {
    PlateOutline outline = broken(plate, view, 0.9, deep / 4, deep);
    outline.shoulder_change = change;
    PlanSpace space = space_of(plate, view);
    space.chisel = chisel;
    return plan_geometry(outline, space)->working_corner.kind;
  };
  EXPECT_EQ(kind(0.4, 0.1, {}), CornerKind::kBroken);
  EXPECT_NE(kind(0.4, 1.2, {}), CornerKind::kBroken);
  EXPECT_EQ(kind(0.4, 1.2, true), CornerKind::kBroken);
  EXPECT_EQ(kind(0.7, 1.2, {}), CornerKind::kBroken);
}

// A broken corner: the lip lies between the flat's end and the lower metal that shows ahead of it; where the lines
// would meet is told apart from it and keeps its own, small uncertainty.
TEST(PlanMeasure, TellsABrokenCornerFromWhereTheLinesWouldMeet) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlanOutlines outlines;
  outlines.plates.push_back(broken(plate, view, 0.9, 0.12, 0.5));
  CardPose pose;
  pose.square_mm = 2;
  pose.view = view;
  glintline::Setup setup;
  setup.stand_off = KnownLength{plate.height, 0.15};
  const Measurements m = measure_plan(outlines, pose, setup);
  ASSERT_EQ(m.cutters.size(), 1U);
  const CutterMeasurement& c = m.cutters[0];
  ASSERT_EQ(c.chips.size(), 1U);
  EXPECT_TRUE(c.chips[0].at_corner);
  EXPECT_EQ(c.chips[0].at_mm, 0);
  EXPECT_NEAR(c.chips[0].depth_mm.value, 0.5, 0.02);
  EXPECT_NEAR(c.whole_length_mm->value, plate.length, kCoverage * c.whole_length_mm->u());
  ASSERT_TRUE(c.corner_loss_mm);
  // Along the chain, the outline's foremost place lies 0.12 / cos 30 behind, and the edge where the gap ends 0.9
  // sin 30.
  EXPECT_GT(c.corner_loss_mm->value, 0.12 / std::cos(plate.angle));
  EXPECT_LT(c.corner_loss_mm->value, 0.9 * std::sin(plate.angle) + 0.05);
  // What is drawn of it is the flat's end, whose depth is told.
  const auto chip =
      std::find_if(c.marks.begin(), c.marks.end(), [](const Mark& k) { return k.role == MarkRole::kChip; });
  ASSERT_NE(chip, c.marks.end());
  ASSERT_FALSE(chip->points_px.empty());
  for (const ContourPoint& p : outlines.plates[0].contour) {
    if ((p.flat_px - p.px).norm() < 1) continue;
    EXPECT_NE(std::find(chip->points_px.begin(), chip->points_px.end(), p.flat_px), chip->points_px.end());
  }
  EXPECT_GT(c.length_mm->u(), c.whole_length_mm->u());
  EXPECT_NEAR(c.corner_loss_mm->value, c.whole_length_mm->value - c.length_mm->value, kExactMm);
}

/// A semi-chisel: within `radius` of the side the plate bends down and its filed front falls back with the depth, by
/// 0.7 mm a millimetre. Its foremost point stands `back` behind where the lines meet.
struct SemiChisel {
  PlateOutline outline;
  double back = 1e9;
};

SemiChisel semi_chisel(const KnownPlate& plate, const CameraView& view, double radius) {
  SemiChisel out{outline_of(plate, view), 1e9};
  for (std::size_t k = 0; k < out.outline.contour.size(); ++k) {
    const double in = plate.width * static_cast<double>(k) / 300;
    const double u = std::max(0.0, radius - in);
    const double back = in * std::tan(plate.angle) + 0.7 * (radius - std::sqrt(radius * radius - u * u));
    out.back = std::min(out.back, back);
    const Point2 px = view.pixel(plate.at(back, in));
    out.outline.contour[k] = {px, true, px, px};
  }
  return out;
}

// A rounded corner's bend is no part of the edge's line: it leaves that line so slowly that a good part of it would
// agree, and turn the edge by a degree.
TEST(PlanGeometry, TakesTheEdgesAngleFromItsStraightPart) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  for (const double radius : {1.2, 1.7, 2.0}) {
    const SemiChisel semi = semi_chisel(plate, view, radius);
    const auto g = plan_geometry(semi.outline, space_of(plate, view));
    ASSERT_TRUE(g);
    EXPECT_EQ(g->working_corner.kind, CornerKind::kRounded) << radius;
    EXPECT_NEAR(g->edge_angle, plate.angle, 0.1 * kDegree) << radius;
    EXPECT_GT(g->straight_from, 0.7 * radius) << radius;
    EXPECT_NEAR(g->length, plate.length - semi.back, 0.01) << radius;
  }
}

// Lower metal that shows ahead of a rounded corner does not lengthen the cutter.
TEST(PlanGeometry, MeasuresARoundedCornerBehindLowerMetal) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  SemiChisel semi = semi_chisel(plate, view, 1.6);
  const Point2 step = view.pixel(plate.at(0, 0)) - view.pixel(plate.at(1, 0));
  for (std::size_t k = 0; k < 30; ++k)
    semi.outline.contour[k].px += step * 0.6 * (0.55 - plate.width * static_cast<double>(k) / 300);
  const auto g = plan_geometry(semi.outline, space_of(plate, view));
  ASSERT_TRUE(g);
  ASSERT_TRUE(g->working_corner.end);
  EXPECT_NEAR(g->length, plate.length - semi.back, 0.03);
  EXPECT_GT(g->u_hidden, 0);
}

// The same where the lower metal beside the side looks the same straight behind its outline: a plate's outline is
// convex and comes no further ahead than its last tangent.
TEST(PlanGeometry, HoldsARoundedCornerBehindItsLastTangent) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  SemiChisel semi = semi_chisel(plate, view, 1.6);
  const Point2 step = view.pixel(plate.at(0, 0)) - view.pixel(plate.at(1, 0));
  for (std::size_t k = 0; k < 30; ++k) {
    const double in = plate.width * static_cast<double>(k) / 300;
    ContourPoint& p = semi.outline.contour[k];
    p.px += step * (0.55 - in);
    if (in < 0.15) p.alike_px = p.px;
  }
  const auto g = plan_geometry(semi.outline, space_of(plate, view));
  ASSERT_TRUE(g);
  ASSERT_TRUE(g->working_corner.end);
  // The bend bends on from its last tangent by 0.15 mm, which nothing tells; to its own end the lower metal leads by
  // 0.5.
  EXPECT_NEAR(g->length, plate.length - semi.back, 0.18);
}

// An outline that turns ahead by no more than a bend may do by itself, while the light tells of an end: either reading
// lies within the budget, which carries their difference.
TEST(PlanGeometry, KeepsBothReadingsOfABendThatTurnsAhead) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  const auto bend = [&](double in) {
    return std::max(in, 1.4) * std::tan(plate.angle) - 0.3 * std::max(0.0, 1.4 - in);
  };
  for (std::size_t k = 0; plate.width * static_cast<double>(k) / 300 < 1.4; ++k) {
    const double in = plate.width * static_cast<double>(k) / 300;
    const Point2 seen = view.pixel(plate.at(bend(in) - 0.4 * std::max(0.0, 0.4 - in), in));
    outline.contour[k] = {seen, true, seen, view.pixel(plate.at(bend(in), in))};
  }
  const auto g = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(g);
  ASSERT_TRUE(g->working_corner.end);
  const double own = plate.length - bend(0);
  const double as_seen = own + 0.16;
  EXPECT_NEAR(g->length, own + 0.08, 0.02);
  EXPECT_LT(std::abs(g->length - own), 2 * g->u_hidden);
  EXPECT_LT(std::abs(g->length - as_seen), 2 * g->u_hidden);
}

// Chips leave less of the straight edge than the corner's bend is long: the line along the bend gathers more places.
TEST(PlanGeometry, TakesNoBendForAChippedEdge) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  for (std::size_t k = 0; k < outline.contour.size(); ++k) {
    const double in = plate.width * static_cast<double>(k) / 300;
    const bool chip = (in > 1.9 && in < 3.65) || in > 4.55;
    const double off = chip ? 0.25 + 0.1 * std::sin(20 * in) : 0.08 * std::max(0.0, 1.9 - in);
    outline.contour[k].px = view.pixel(plate.at(in * std::tan(plate.angle) + off, in));
    outline.contour[k].alike_px = outline.contour[k].flat_px = outline.contour[k].px;
  }
  const auto g = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(g);
  EXPECT_NEAR(g->edge_angle, plate.angle, 0.3 * kDegree);
}

// A rounded corner whose tip, behind its foremost place, looks like the metal beneath: the bend is seen to turn back,
// and the length ends there, not where the lines would meet.
TEST(PlanGeometry, EndsARoundedCornerWhereItsBendTurnsBack) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  for (const double radius : {1.2, 1.6}) {
    SemiChisel semi = semi_chisel(plate, view, radius);
    for (std::size_t k = 0; plate.width * static_cast<double>(k) / 300 < 0.2; ++k) {
      const double in = plate.width * static_cast<double>(k) / 300;
      semi.outline.contour[k].px = view.pixel(plate.at(in * std::tan(plate.angle), in));
      semi.outline.contour[k].seen = false;
    }
    for (std::size_t k = 20; k < 26; ++k) semi.outline.contour[k].seen = false;
    const auto g = plan_geometry(semi.outline, space_of(plate, view));
    ASSERT_TRUE(g);
    EXPECT_EQ(g->working_corner.kind, CornerKind::kRounded) << radius;
    EXPECT_NEAR(g->length, plate.length - semi.back, 0.02) << radius;
  }
}

// A rounded corner whose bend looks like the metal beneath before it turns back is no chisel: its length lies within
// what a convex outline can still gain, and its edge keeps the angle of the straight part.
TEST(PlanGeometry, ExpectsALostBendUpToItsTangent) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  for (const double radius : {1.2, 1.6}) {
    SemiChisel semi = semi_chisel(plate, view, radius);
    for (std::size_t k = 0; plate.width * static_cast<double>(k) / 300 < 0.45; ++k) {
      const double in = plate.width * static_cast<double>(k) / 300;
      semi.outline.contour[k].px = view.pixel(plate.at(in * std::tan(plate.angle), in));
      semi.outline.contour[k].seen = false;
    }
    const auto g = plan_geometry(semi.outline, space_of(plate, view));
    ASSERT_TRUE(g);
    EXPECT_EQ(g->working_corner.kind, CornerKind::kRounded) << radius;
    ASSERT_TRUE(g->working_corner.end) << radius;
    EXPECT_TRUE(g->working_corner.end->lost) << radius;
    EXPECT_LT(std::abs(g->length - (plate.length - semi.back)), 2 * g->u_hidden) << radius;
    EXPECT_LT(g->u_hidden, 0.08) << radius;
    EXPECT_NEAR(g->edge_angle, plate.angle, 0.1 * kDegree) << radius;
  }
}

// A chisel's outline that is lost over its last eighth of a millimetre lies on the edge's line up to there: the
// corner's radius is no larger than that way, and the tip lies between where the lines meet and behind it by what such
// a radius takes.
TEST(PlanGeometry, ExpectsALostTipWithinWhatItsRadiusCanTake) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  for (std::size_t k = 0; k < 7; ++k) outline.contour[k].seen = false;
  const auto g = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(g);
  EXPECT_EQ(g->working_corner.kind, CornerKind::kSharp);
  const double lost = 7 * plate.width / 300;
  const double last_seen = plate.length - lost * std::tan(plate.angle);
  EXPECT_GT(g->length, last_seen + 0.02);
  EXPECT_LT(g->length, plate.length);
  EXPECT_LT(plate.length - g->length, 2 * g->u_hidden);
}

// The same on an edge that is worn back by 0.04 mm beside the corner: the tip goes on beside the line at the most.
TEST(PlanGeometry, ExpectsALostTipBesideTheLineOfAnUnevenEdge) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  const double worn = 0.04 / std::cos(plate.angle);
  const auto back = [&](double in) {
    return in * std::tan(plate.angle) + worn * std::clamp((0.6 - in) / 0.3, 0.0, 1.0);
  };
  for (std::size_t k = 0; k < outline.contour.size(); ++k) {
    const double in = plate.width * static_cast<double>(k) / 300;
    const Point2 px = view.pixel(plate.at(back(in), in));
    outline.contour[k] = {px, k >= 7, px, px};
  }
  const auto g = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(g);
  EXPECT_EQ(g->working_corner.kind, CornerKind::kSharp);
  const double last_seen = plate.length - back(7 * plate.width / 300);
  EXPECT_GT(g->length, last_seen + 0.02);
  EXPECT_LT(g->length, plate.length - back(0) + 1e-3);
  EXPECT_LT(std::abs(g->length - (plate.length - back(0))), 2 * g->u_hidden);
}

// Where the corner looks like the metal beneath, its foremost point is expected behind the crossing by what a chisel's
// usual rounding takes. The formula against a search round that rounding: at the angle f the edge lies (1 - sin f) r
// further inwards and (1 - cos f) r lower, where the bevel (wedge's tangent 1.2) stands back.
TEST(PlanGeometry, ExpectsAnUnseenCornerBehindTheCrossing) {
  const CameraView view = tilted_view();
  const KnownPlate plate;
  PlateOutline outline = outline_of(plate, view);
  for (std::size_t k = 0; k < 40; ++k) outline.contour[k].seen = false;
  const auto g = plan_geometry(outline, space_of(plate, view));
  ASSERT_TRUE(g);
  EXPECT_EQ(g->working_corner.kind, CornerKind::kUnseen);
  constexpr double kRadiusMm = 0.15;
  double least = 1e9;
  for (double f = 0; f < M_PI / 2; f += 1e-4) {
    const double back = (1 - std::sin(f)) * std::tan(plate.angle) + (1 - std::cos(f)) / (1.2 * std::cos(plate.angle));
    least = std::min(least, kRadiusMm * back);
  }
  EXPECT_NEAR(g->whole_length - g->length, least, 1e-6);
  EXPECT_GT(g->u_corner, 0.03);
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
