#include "model/camera_view.h"

#include <gtest/gtest.h>

#include <opencv2/calib3d.hpp>

namespace glintline {
namespace {

CameraView tilted_view() {
  CameraView view;
  view.camera = {.fx = 3000, .fy = 3010, .cx = 2001, .cy = 1490, .distortion = {0.06, -0.1, 0.001, -0.002, 0.01}};
  view.camera_from_board.rotation = Eigen::AngleAxisd(0.3, Point3(0.6, -0.7, 0.2).normalized()).toRotationMatrix();
  view.camera_from_board.translation = Point3(-50, -35, 105);
  return view;
}

// General-purpose reference: OpenCV's projectPoints.
TEST(CameraView, ProjectsAsOpenCvDoes) {
  const CameraView view = tilted_view();
  const Eigen::AngleAxisd turn(view.camera_from_board.rotation);
  const Point3 r = turn.angle() * turn.axis();
  const Point3 t = view.camera_from_board.translation;
  const cv::Matx33d k(3000, 0, 2001, 0, 3010, 1490, 0, 0, 1);
  const std::vector<double> d(view.camera.distortion.begin(), view.camera.distortion.end());
  for (const Point3& p : {Point3(0, 0, 0), Point3(105, 75, 0), Point3(40, 20, -5.5)}) {
    std::vector<cv::Point2d> seen;
    cv::projectPoints(std::vector<cv::Point3d>{{p.x(), p.y(), p.z()}}, cv::Vec3d(r.x(), r.y(), r.z()),
                      cv::Vec3d(t.x(), t.y(), t.z()), k, d, seen);
    EXPECT_NEAR(view.pixel(p).x(), seen[0].x, 1e-8);  // exact algebra
    EXPECT_NEAR(view.pixel(p).y(), seen[0].y, 1e-8);
  }
}

TEST(CameraView, SightLineMeetsThePointItWasProjectedFrom) {
  const CameraView view = tilted_view();
  for (const double height : {0.0, 5.5, 12.0}) {
    const Point2 back = view.at_height(view.pixel(Point3(30, 50, -height)), height);
    EXPECT_NEAR(back.x(), 30, 1e-6);  // the fixed-point iteration's tolerance
    EXPECT_NEAR(back.y(), 50, 1e-6);
  }
}

}  // namespace
}  // namespace glintline
