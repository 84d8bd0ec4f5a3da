#include "trace/cutter_trace.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "math/statistics.h"
#include "trace/cutter_scene.h"
#include "trace/field_colour.h"

namespace glintline {
namespace {

const cv::Scalar kField(20, 90, 25);
const cv::Scalar kSteel(150, 152, 155);
constexpr double kOuterMm = 5.6;  ///< outer face over the card
constexpr double kInnerMm = 0.6;  ///< the top plate's inner end
constexpr double kRivetMm = 9.4;
constexpr double kRearMm = -3;  ///< the plate's rear end, chain frame
const Point2 kRearRivet(48, 40);

/// A camera straight over the card, `behind_mm` to the rear of the rear rivet.
CardPose pose_from(double behind_mm) {
  CardPose pose;
  CameraView& view = pose.view;
  view.camera.fx = view.camera.fy = 3400;
  view.camera.cx = 1000;
  view.camera.cy = 700;
  view.camera_from_board.rotation.setIdentity();
  view.camera_from_board.translation = Point3(-(kRearRivet.x() - behind_mm), -kRearRivet.y(), 110);
  pose.square_mm = 5;
  pose.blur_px = 0.8;
  return pose;
}

/// Places of the chain frame, joined by a thin line in the field's own colour, at which the flood of the field stops.
using Wall = std::vector<Point2>;

/// A cutter that runs to the right, its top plate's rear face drawn in a colour of its own.
cv::Mat picture_of(const CameraView& view, const cv::Scalar& rear_face, const Wall& wall = {}) {
  constexpr int kFine = 16;
  cv::Mat bgr(1400, 2000, CV_8UC3, kField);
  const auto at = [&](double x, double z, double height) {
    const Point2 px = view.pixel({kRearRivet.x() + x, kRearRivet.y() - z, -height});
    return cv::Point(static_cast<int>(std::lround(px.x() * kFine)), static_cast<int>(std::lround(px.y() * kFine)));
  };
  const auto draw = [&](const std::vector<cv::Point>& polygon, const cv::Scalar& colour) {
    cv::fillPoly(bgr, std::vector<std::vector<cv::Point>>{polygon}, colour, cv::LINE_AA, 4);
  };
  draw({at(kRearMm, 6.4, kInnerMm), at(kRearMm, 6.4, kOuterMm), at(kRearMm, 4.2, kOuterMm), at(kRearMm, 4.2, kInnerMm)},
       rear_face);
  draw({at(-3.5, -2, kOuterMm), at(-3.5, 2.2, kOuterMm), at(kRearMm, 4, kOuterMm), at(kRearMm, 6.4, kOuterMm),
        at(5, 7.1, kOuterMm), at(4.6, 5, kOuterMm), at(5.4, 3, kOuterMm), at(8, 2.6, kOuterMm), at(9.4, 6.4, kOuterMm),
        at(11, 6.4, kOuterMm), at(12, 2.2, kOuterMm), at(12.4, -2, kOuterMm)},
       kSteel);
  for (std::size_t k = 1; k < wall.size(); ++k) {
    cv::line(bgr, at(wall[k - 1].x(), wall[k - 1].y(), kOuterMm), at(wall[k].x(), wall[k].y(), kOuterMm), 0.65 * kField,
             2, cv::LINE_AA, 4);
  }
  cv::GaussianBlur(bgr, bgr, {}, 0.8);
  return bgr;
}

/// Darkens what shows the field of a polygon of the chain frame, with a hard border, in a grainy picture.
void cast_shadow(cv::Mat& bgr, const CameraView& view, const std::vector<Point2>& polygon) {
  std::vector<cv::Point> corners;
  for (const Point2& p : polygon) {
    const Point2 px = view.pixel({kRearRivet.x() + p.x(), kRearRivet.y() - p.y(), -kOuterMm});
    corners.emplace_back(cvRound(px.x()), cvRound(px.y()));
  }
  cv::Mat shaded(bgr.size(), CV_8U, cv::Scalar(0));
  cv::fillPoly(shaded, std::vector<std::vector<cv::Point>>{corners}, 255);
  cv::Mat field;
  cv::inRange(bgr, 0.9 * kField, 1.1 * kField, field);
  bgr.setTo(0.35 * kField, shaded & field);
  cv::GaussianBlur(bgr, bgr, {}, 0.6);
  cv::Mat grain(bgr.size(), CV_16SC3);
  cv::RNG(1).fill(grain, cv::RNG::NORMAL, 0, 4);
  cv::add(bgr, grain, bgr, cv::noArray(), CV_8U);
}

CutterFrame frame_of_cutter() {
  CutterFrame frame;
  frame.rear_rivet_mm = kRearRivet;
  frame.front_rivet_mm = kRearRivet + Point2(kRivetMm, 0);
  frame.up = Point2(0, -1);
  frame.height_mm = kOuterMm;
  return frame;
}

Result<CutterOutline> traced(const CardPose& pose, const cv::Mat& bgr) {
  const auto field = learn_field_colour(bgr);
  return trace_cutter(bgr, pose, field.value(), frame_of_cutter());
}

Result<CutterOutline> traced(const CardPose& pose, const cv::Scalar& rear_face) {
  return traced(pose, picture_of(pose.view, rear_face));
}

/// Median of a traced outline's places in the plane of the outer face, chain frame.
Point2 middle_of(const std::vector<EdgePoint>& outline, const CardPose& pose) {
  std::vector<double> x, y;
  for (const EdgePoint& e : outline) {
    const Point2 at = pose.view.at_height(e.px, kOuterMm) - kRearRivet;
    x.push_back(at.x());
    y.push_back(at.y());
  }
  return {median(std::move(x)), median(std::move(y))};
}

/// Median place of the traced rear end along the chain, in the plane of the outer face.
double rear_of(double behind_mm, const cv::Scalar& rear_face) {
  const CardPose pose = pose_from(behind_mm);
  const auto outline = traced(pose, rear_face);
  if (!outline.ok() || outline->rear.size() < 5) return NAN;
  return middle_of(outline->rear, pose).x();
}

/// Where the inner end of the rear face stands, seen in the plane of the outer one.
double inner_end(double behind_mm) {
  const CameraView view = pose_from(behind_mm).view;
  const Point2 px = view.pixel({kRearRivet.x() + kRearMm, kRearRivet.y() - 5.5, -kInnerMm});
  return view.at_height(px, kOuterMm).x() - kRearRivet.x();
}

// Seen from behind, the plate's rear face shows to the left of its outer side. Lit or mirroring the field, it belongs to
// the plate: what ends the outline is its inner end.
TEST(CutterTrace, FollowsARearEndSeenFromBehindToItsInnerEnd) {
  constexpr double kBehindMm = 22;
  ASSERT_LT(inner_end(kBehindMm), kRearMm - 0.6);
  EXPECT_NEAR(rear_of(kBehindMm, 0.7 * kSteel), inner_end(kBehindMm), 0.06);
  EXPECT_NEAR(rear_of(kBehindMm, 0.45 * kField), inner_end(kBehindMm), 0.06);
}

// Of a strip too narrow to be seen as one: bare steel begins at the near rim, unless the face has light of its own.
TEST(CutterTrace, TellsWhichRimOfARearEndSeenFromSlightlyBehindMakesItsOutline) {
  constexpr double kWithinMm = 0.03;
  for (const double behind_mm : {5.0, 6.0}) {
    const CardPose pose = pose_from(behind_mm);
    const auto mirrors = traced(pose, 0.62 * kField);
    const auto shines = traced(pose, cv::Scalar(112, 115, 118));
    ASSERT_TRUE(mirrors.ok() && shines.ok());
    EXPECT_GT(mirrors->rear_near_rim, 0.8) << behind_mm;
    EXPECT_NEAR(middle_of(mirrors->rear, pose).x(), kRearMm, kWithinMm) << behind_mm;
    EXPECT_LT(shines->rear_near_rim, 0.2) << behind_mm;
    EXPECT_NEAR(middle_of(shines->rear, pose).x(), inner_end(behind_mm), kWithinMm) << behind_mm;
  }
}

// Seen from straight over, it shows nothing.
TEST(CutterTrace, EndsAtTheOuterSideSeenFromStraightOver) {
  EXPECT_NEAR(rear_of(-3, 0.45 * kField), kRearMm, 0.06);
}

// The drawn gauge's crown is flat over 1.6 mm, and a fifth of a millimetre lower 0.12 mm wider; its blur
// widens either side by about half of 0.1 mm.
TEST(CutterTrace, TellsHowWideTheGaugesCrownIs) {
  const auto outline = traced(pose_from(-3), 0.45 * kField);
  ASSERT_TRUE(outline.ok());
  EXPECT_NEAR(outline->face.gauge_crown_mm, 1.82, 0.1);
}

TEST(CutterTrace, LooksAgainAndSeesTheSameWhereNothingIsInDoubt) {
  const CardPose pose = pose_from(-3);
  const auto outline = traced(pose, 0.45 * kField);
  ASSERT_TRUE(outline.ok());
  ASSERT_EQ(outline->again.size(), 2U);
  const double px_mm = pose.view.mm_per_px(outline->top.front().px, kOuterMm);
  for (const CutterLines& lines : outline->again) {
    EXPECT_NEAR(middle_of(lines.top, pose).y(), middle_of(outline->top, pose).y(), 0.2 * px_mm);
  }
}

// A thin line in the field's own colour stops the flood on both of its sides, as blocks do that meet in a penumbra.
TEST(CutterTrace, LeavesOutAThinWallInTheFieldsColour) {
  const CardPose pose = pose_from(-3);
  const cv::Mat bgr = picture_of(pose.view, 0.45 * kField, {{4.6, 6.48}, {7.5, 6.48}});
  const auto field = learn_field_colour(bgr);
  const CutterScene scene = make_cutter_scene(bgr, pose, field.value(), frame_of_cutter());
  const cv::Mat without = solid_without_slivers(scene, pose);
  const auto height = [&](const cv::Mat& solid, double x) {
    return (scene.rear_rivet.y() - skyline(solid)[static_cast<std::size_t>(scene.column(x / kRivetMm))]) *
           scene.frame.mm_per_px;
  };
  EXPECT_GT(height(scene.solid, 6.5), 6);
  EXPECT_LT(height(without, 6.5), 3.2);
  for (const double x : {-2.0, 0.0, 2.0, 4.0, 10.0}) EXPECT_NEAR(height(without, x), height(scene.solid, x), 0.05) << x;
}

// The end of a shadow stands on the crown, higher than a gauge's top could mirror the field.
TEST(CutterTrace, FindsTheCrownUnderAShadowsEnd) {
  const CardPose pose = pose_from(-3);
  const auto crown_of = [&](double high) {
    cv::Mat bgr = picture_of(pose.view, 0.45 * kField);
    cast_shadow(bgr, pose.view, {{9.3, 6.4}, {9.3, 6.5 + high}, {9.9, 6.5 + high}, {9.9, 6.4}});
    const auto outline = traced(pose, bgr);
    return outline.ok() ? middle_of(outline->gauge, pose).y() : NAN;
  };
  for (const double high : {0.4, 0.45, 0.5, 0.55}) EXPECT_NEAR(crown_of(high), crown_of(-0.1), 0.02) << high;
}

// A shadow's rim over the gauge's flank, at which the flood stopped, stands higher than the crown and shows no outline.
TEST(CutterTrace, FindsTheCrownBesideARimThatStandsOverIt) {
  const CardPose pose = pose_from(-3);
  const auto crown_of = [&](const Wall& wall) {
    const auto outline = traced(pose, picture_of(pose.view, 0.45 * kField, wall));
    return outline.ok() ? middle_of(outline->gauge, pose).y() : NAN;
  };
  for (const double to : {9.6, 9.8, 10.2}) {
    EXPECT_NEAR(crown_of({{8.9, 5}, {8.9, 6.8}, {to, 6.8}, {to, 6.3}}), crown_of({}), 0.01) << to;
  }
}

}  // namespace
}  // namespace glintline
