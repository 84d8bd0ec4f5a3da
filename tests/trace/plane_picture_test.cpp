#include "trace/plane_picture.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include "support/board_render.h"

namespace glintline {
namespace {

const cv::Size kPhoto(1200, 900);

CameraView tilted_view() {
  CameraView view;
  view.camera = testing::plain_camera(1500, kPhoto);
  view.camera.distortion = {-0.08, 0.03, 0.0008, -0.0006, 0};
  view.camera_from_board = testing::camera_over({50, 38}, 160, 0.16, 0.7, 0.4);
  return view;
}

/// Where the rays of all pixels meet the plane at `height_mm`, board X and Y: OpenCV's undistortion and a ray of our
/// own, so that nothing is shared with what is tested.
cv::Mat plane_of_pixels(const CameraView& view, double height_mm) {
  const Camera& c = view.camera;
  const cv::Matx33d matrix(c.fx, 0, c.cx, 0, c.fy, c.cy, 0, 0, 1);
  const cv::Mat distortion(1, 5, CV_64F, const_cast<double*>(c.distortion.data()));
  std::vector<cv::Point2d> pixels, rays;
  for (int y = 0; y < kPhoto.height; ++y) {
    for (int x = 0; x < kPhoto.width; ++x) pixels.emplace_back(x, y);
  }
  cv::undistortPoints(pixels, rays, matrix, distortion, cv::noArray(), cv::noArray(),
                      cv::TermCriteria(cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 40, 1e-12));
  const Eigen::Matrix3d board_from_camera = view.camera_from_board.rotation.transpose();
  const Point3 eye = -(board_from_camera * view.camera_from_board.translation);
  cv::Mat plane(kPhoto, CV_64FC2);
  for (int y = 0; y < kPhoto.height; ++y) {
    for (int x = 0; x < kPhoto.width; ++x) {
      const cv::Point2d& r = rays[static_cast<std::size_t>(y) * kPhoto.width + x];
      const Point3 way = board_from_camera * Point3(r.x, r.y, 1);
      const Point3 at = eye + (-height_mm - eye.z()) / way.z() * way;
      plane.at<cv::Vec2d>(y, x) = {at.x(), at.y()};
    }
  }
  return plane;
}

/// Two crossed waves of light, one a colour: their phases tell where a pixel lies on the plane.
struct Waves {
  double period_mm;
  [[nodiscard]] cv::Vec3d at(const Point2& p) const {
    const double k = 2 * std::numbers::pi / period_mm;
    return {127.5 + 110 * std::sin(k * p.x()), 127.5 + 110 * std::sin(k * p.y()), 127.5};
  }
};

cv::Mat photograph_of(const Waves& waves, const CameraView& view, double height_mm) {
  const cv::Mat plane = plane_of_pixels(view, height_mm);
  cv::Mat photo(kPhoto, CV_8UC3);
  for (int y = 0; y < kPhoto.height; ++y) {
    for (int x = 0; x < kPhoto.width; ++x) {
      const auto& p = plane.at<cv::Vec2d>(y, x);
      const cv::Vec3d light = waves.at({p[0], p[1]});
      for (int c = 0; c < 3; ++c) photo.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<uchar>(light[c]);
    }
  }
  return photo;
}

PlaneFrame frame_at(double height_mm, double mm_per_px) {
  PlaneFrame frame;
  frame.right = Point2(std::cos(0.3), std::sin(0.3));
  frame.down = turned_quarter(frame.right);
  frame.height_mm = height_mm;
  frame.mm_per_px = mm_per_px;
  frame.size = {static_cast<int>(40 / mm_per_px), static_cast<int>(30 / mm_per_px)};
  frame.origin_mm = Point2(50, 38) - 20 * frame.right - 15 * frame.down;
  return frame;
}

/// By how many pixels of `seen` a block of it stands off the waves' true place: least squares over the block.
Point2 shift_of(const cv::Mat& seen, const PlaneFrame& frame, const Waves& waves, const cv::Rect& block) {
  Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
  Point2 right_side = Point2::Zero();
  const auto place = [&](double x, double y) {
    return Point2(frame.origin_mm + frame.mm_per_px * (x * frame.right + y * frame.down));
  };
  for (int y = block.y; y < block.br().y; ++y) {
    for (int x = block.x; x < block.br().x; ++x) {
      const cv::Vec3d truth = waves.at(place(x, y));
      const cv::Vec3d dx = 0.5 * (waves.at(place(x + 1, y)) - waves.at(place(x - 1, y)));
      const cv::Vec3d dy = 0.5 * (waves.at(place(x, y + 1)) - waves.at(place(x, y - 1)));
      for (int c = 0; c < 2; ++c) {
        const Point2 slope(dx[c], dy[c]);
        normal += slope * slope.transpose();
        right_side += slope * (seen.at<cv::Vec3b>(y, x)[c] - truth[c]);
      }
    }
  }
  return normal.inverse() * right_side;
}

double worst_shift(const cv::Mat& seen, const PlaneFrame& frame, const Waves& waves, int side) {
  double worst = 0;
  for (int y = 0; y + side <= seen.rows; y += side) {
    for (int x = 0; x + side <= seen.cols; x += side) {
      worst = std::max(worst, shift_of(seen, frame, waves, {x, y, side, side}).norm());
    }
  }
  return worst;
}

// Straight lines between nodes 16 pixels apart, coordinates in 1/32 pixel (OpenCV's remap) and 8-bit codes.
constexpr double kPlacePx = 0.02;

TEST(PlanePicture, ShowsEveryBlockWhereItLies) {
  const CameraView view = tilted_view();
  for (const double height : {0.0, 5.5}) {
    const Waves waves{3.0};
    const PlaneFrame frame = frame_at(height, 0.1);
    const cv::Mat seen = picture_of_plane(photograph_of(waves, view, height), view, frame);
    ASSERT_EQ(seen.size(), frame.size);
    EXPECT_LT(worst_shift(seen, frame, waves, 40), kPlacePx) << height;
  }
}

// The test can tell: a plane a millimetre off is 1/155 of the distance from the picture's foot point away.
TEST(PlanePicture, IsSeenElsewhereAtAnotherHeight) {
  const CameraView view = tilted_view();
  const Waves waves{6.0};
  const PlaneFrame frame = frame_at(5.5, 0.1);
  const cv::Mat seen = picture_of_plane(photograph_of(waves, view, 4.5), view, frame);
  EXPECT_GT(worst_shift(seen, frame, waves, 40), 0.5);
}

TEST(PlanePicture, KeepsThePlaceInAReducedPhotograph) {
  const CameraView view = tilted_view();
  const Waves waves{8.0};
  const PlaneFrame frame = frame_at(5.5, 0.3);
  const cv::Mat photo = photograph_of(waves, view, 5.5);
  for (const int reduction : {2, 3, 4}) {
    cv::Mat small;
    cv::resize(photo, small, {photo.cols / reduction, photo.rows / reduction}, 0, 0, cv::INTER_AREA);
    const cv::Mat seen = picture_of_plane(small, view, frame, reduction);
    // Half a pixel of the photograph forgotten would be 0.17 to 0.5 of a pixel here.
    EXPECT_LT(worst_shift(seen, frame, waves, 32), 1.5 * kPlacePx) << reduction;
  }
}

TEST(PlanePicture, IsBlackOutsideThePhotograph) {
  const CameraView view = tilted_view();
  PlaneFrame frame = frame_at(0, 0.2);
  frame.origin_mm = {-400, -400};
  const cv::Mat seen = picture_of_plane(cv::Mat(kPhoto, CV_8UC3, cv::Scalar(90, 90, 90)), view, frame);
  EXPECT_EQ(cv::norm(seen, cv::NORM_INF), 0);
}

TEST(PlanePicture, FillsSizesThatAreNoMultipleOfTheNodes) {
  const CameraView view = tilted_view();
  for (const cv::Size size : {cv::Size(1, 1), cv::Size(16, 16), cv::Size(17, 33), cv::Size(31, 15)}) {
    PlaneFrame frame = frame_at(0, 0.1);
    frame.size = size;
    const cv::Mat seen = picture_of_plane(cv::Mat(kPhoto, CV_8UC3, cv::Scalar(90, 90, 90)), view, frame);
    ASSERT_EQ(seen.size(), size);
    EXPECT_EQ(cv::norm(seen, cv::Mat(size, CV_8UC3, cv::Scalar(90, 90, 90)), cv::NORM_INF), 0) << size.width;
  }
}

}  // namespace
}  // namespace glintline
