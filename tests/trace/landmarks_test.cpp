#include "trace/landmarks.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.03;
const cv::Scalar kField(190, 70, 20);

/// A link with plate, gullet and gauge over its rivets, 9.5 mm apart, in the colour of steel or of the field in shadow,
/// and something in a colour of its own, `higher_px` over the gauge, ahead of it.
struct Link {
  FieldColour field = *learn_field_colour(cv::Mat(40, 40, CV_8UC3, kField));
  CutterScene scene;

  Link(const cv::Scalar& gauge, const cv::Scalar& ahead, int higher_px) {
    scene.picture = cv::Mat(330, 760, CV_8UC3, kField);
    scene.solid = cv::Mat::zeros(scene.picture.size(), CV_8U);
    scene.field = &field;
    scene.frame.mm_per_px = kMmPerPx;
    scene.pitch_px = 9.5 / kMmPerPx;
    scene.rear_rivet = {200, 300};
    const cv::Scalar steel(120, 125, 128);
    draw({{20, 250}, {740, 250}, {740, 329}, {20, 329}}, steel);
    draw({{110, 120}, {370, 100}, {380, 250}, {110, 250}}, steel);
    draw({{500, 250}, {540, 122}, {590, 122}, {600, 250}}, gauge);
    draw({{630, 250}, {640, 122 - higher_px}, {740, 122 - higher_px}, {740, 250}}, ahead);
  }

  void draw(const std::vector<cv::Point>& polygon, const cv::Scalar& colour) {
    cv::fillPoly(scene.picture, std::vector<std::vector<cv::Point>>{polygon}, colour);
    cv::fillPoly(scene.solid, std::vector<std::vector<cv::Point>>{polygon}, 255);
  }

  [[nodiscard]] int gauge() const {
    const auto marks = find_landmarks(scene, skyline(scene.solid));
    return marks ? marks->gauge : -1;
  }
};

// The next cutter's shadow may end sharply enough to stop the flood, and reach higher than the gauge before it.
TEST(Landmarks, TakeSteelForTheGaugeBeforeAShadowThatReachesHigher) {
  const Link link({120, 125, 128}, 0.4 * kField, 8);
  EXPECT_GE(link.gauge(), 540);
  EXPECT_LE(link.gauge(), 590);
}

// Where that shadow stands right against the gauge no gap parts the two, but the gullet behind it does.
TEST(Landmarks, TakeSteelForTheGaugeBeforeAShadowThatTouchesIt) {
  Link link({120, 125, 128}, 0.4 * kField, 8);
  link.draw({{592, 122}, {640, 114}, {640, 250}, {600, 250}}, 0.4 * kField);
  EXPECT_GE(link.gauge(), 540);
  EXPECT_LE(link.gauge(), 590);
}

TEST(Landmarks, TakeTheHighestWhereNothingShowsSteel) {
  const Link link(0.4 * kField, 0.4 * kField, 8);
  EXPECT_GE(link.gauge(), 636);
}

// A shadow's rim may stop the flood over parts of the top, and stand over it there.
TEST(Landmarks, FollowTheTopBetweenShadowsThatStandOverItsEnds) {
  Link link(cv::Scalar(120, 125, 128), 0.4 * kField, 8);
  link.draw({{110, 114}, {205, 92}, {211, 115}, {110, 125}}, 0.4 * kField);
  link.draw({{310, 96}, {370, 84}, {370, 110}, {310, 110}}, 0.4 * kField);
  const auto marks = find_landmarks(link.scene, skyline(link.scene.solid));
  ASSERT_TRUE(marks);
  for (const int x : {220, 255, 290}) {
    EXPECT_NEAR(on_line(marks->plate_line, x).y(), 120 - (x - 110) / 13.0, 1.5) << x;
  }
}

// A crumb on the middle of the top.
TEST(Landmarks, FollowTheTopOnBothSidesOfSomethingOnIt) {
  Link link(cv::Scalar(120, 125, 128), 0.4 * kField, 8);
  link.draw({{220, 122}, {220, 104}, {262, 100}, {262, 118}}, {110, 160, 200});
  const auto marks = find_landmarks(link.scene, skyline(link.scene.solid));
  ASSERT_TRUE(marks);
  EXPECT_NEAR(marks->plate_from, 110, 3);
  EXPECT_NEAR(marks->plate_to, 370, 3);
}

}  // namespace
}  // namespace glintline
