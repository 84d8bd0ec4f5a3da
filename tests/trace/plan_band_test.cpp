#include "trace/plan_band.h"

#include <gtest/gtest.h>

namespace glintline {
namespace {

/// A photograph whose green tells the column and whose red tells the row, straight from over the card, 20 pixels a
/// millimetre.
Photo ramps() {
  Photo photo;
  photo.bgr = cv::Mat(400, 400, CV_8UC3);
  for (int y = 0; y < photo.bgr.rows; ++y) {
    for (int x = 0; x < photo.bgr.cols; ++x) photo.bgr.at<cv::Vec3b>(y, x) = cv::Vec3b(0, x / 2, y / 2);
  }
  return photo;
}

CardPose straight_over() {
  CardPose pose;
  pose.view.camera.fx = pose.view.camera.fy = 2000;
  pose.view.camera_from_board.rotation.setIdentity();
  pose.view.camera_from_board.translation = Point3(0, 0, 100);
  return pose;
}

TEST(PlanBand, GivesAPartOfItselfBetweenItsSamples) {
  const Photo photo = ramps();
  PlanBand band;
  band.frame.origin_mm = {2, 3};
  band.frame.mm_per_px = 0.1;  // two pixels
  band.frame.size = {100, 40};
  const PlanBand part = part_of_band(photo, straight_over(), band, 30, 70, {-0.5, 0.25});
  ASSERT_EQ(part.bgr.size(), cv::Size(40, 40));
  EXPECT_LT((part.frame.board(0, 0) - band.frame.board(29.5, 0.25)).norm(), 1e-12);
  for (const cv::Point& at : {cv::Point(3, 5), cv::Point(38, 30)}) {
    const Point3 mm = part.frame.board(at.x, at.y);
    const cv::Vec3b seen = part.bgr.at<cv::Vec3b>(at);
    EXPECT_NEAR(seen[1], 10 * mm.x(), 1);
    EXPECT_NEAR(seen[2], 10 * mm.y(), 1);
  }
  // What is asked for beyond the band is left out.
  EXPECT_EQ(part_of_band(photo, straight_over(), band, -10, 200, {0, 0}).bgr.cols, 100);
}

}  // namespace
}  // namespace glintline
