#include "locate/camera_prior.h"

#include <gtest/gtest.h>

#include <opencv2/core.hpp>

#include "model/camera_view.h"

namespace glintline {
namespace {

constexpr int kWidth = 40;
constexpr int kHeight = 30;

// Each EXIF orientation as a sequence of OpenCV's own turns and mirrors (EXIF 2.3, tag 274).
cv::Mat upright_picture(const cv::Mat& stored, int orientation) {
  cv::Mat upright;
  switch (orientation) {
    case 2:
      cv::flip(stored, upright, 1);
      return upright;
    case 3:
      cv::rotate(stored, upright, cv::ROTATE_180);
      return upright;
    case 4:
      cv::flip(stored, upright, 0);
      return upright;
    case 5:
      cv::transpose(stored, upright);
      return upright;
    case 6:
      cv::rotate(stored, upright, cv::ROTATE_90_CLOCKWISE);
      return upright;
    case 7:
      cv::rotate(stored, upright, cv::ROTATE_180);
      cv::transpose(upright, upright);
      return upright;
    case 8:
      cv::rotate(stored, upright, cv::ROTATE_90_COUNTERCLOCKWISE);
      return upright;
    default:
      return stored;
  }
}

Camera stored_camera() {
  return {.fx = 33, .fy = 34, .cx = 18.25, .cy = 15.75, .distortion = {0.05, -0.04, 0.006, -0.009, 0.01}};
}

Photo blank_photo(int width, int height, int orientation) {
  Photo photo;
  photo.exif.orientation = orientation;
  photo.bgr = upright_picture(cv::Mat::zeros(height, width, CV_8UC3), orientation);
  return photo;
}

// A lit pixel must lie on the same sight line, turned, whichever way the picture was stored.
TEST(UprightCamera, SeesEveryPixelWhereThePictureWasTurnedTo) {
  const cv::Point lit(31, 7);
  const Point2 stored_direction = stored_camera().direction({lit.x, lit.y});
  cv::Mat stored = cv::Mat::zeros(kHeight, kWidth, CV_8UC1);
  stored.at<std::uint8_t>(lit) = 255;
  for (int orientation = 1; orientation <= 8; ++orientation) {
    const cv::Mat upright = upright_picture(stored, orientation);
    double level = 0;
    cv::Point at;
    cv::minMaxLoc(upright, nullptr, &level, nullptr, &at);
    ASSERT_EQ(level, 255);
    const Camera camera = upright_camera(stored_camera(), kWidth, kHeight, orientation);
    const Point2 direction = camera.direction({at.x, at.y});
    // The turn of the axes, found from two other pixels of the same pictures, not from the code under test.
    cv::Mat corner = cv::Mat::zeros(2, 2, CV_8UC1);
    corner.at<std::uint8_t>(0, 0) = 1;  // origin
    corner.at<std::uint8_t>(0, 1) = 2;  // along stored x
    corner.at<std::uint8_t>(1, 0) = 3;  // along stored y
    const cv::Mat turned = upright_picture(corner, orientation);
    std::array<Point2, 4> place;
    for (int y = 0; y < 2; ++y) {
      for (int x = 0; x < 2; ++x) place[turned.at<std::uint8_t>(y, x)] = Point2(x, y);
    }
    const Point2 expected = stored_direction.x() * (place[2] - place[1]) + stored_direction.y() * (place[3] - place[1]);
    EXPECT_NEAR(direction.x(), expected.x(), 1e-8) << "orientation " << orientation;  // the iteration's tolerance
    EXPECT_NEAR(direction.y(), expected.y(), 1e-8) << "orientation " << orientation;
  }
}

TEST(CameraPrior, ScalesACameraFileToTheSizeOfThePicture) {
  glintline::Setup setup;
  setup.camera = stored_camera();
  setup.camera_width = kWidth;
  setup.camera_height = kHeight;
  const CameraPrior prior = camera_prior(blank_photo(2 * kWidth, 2 * kHeight, 1), setup, 0.03);
  EXPECT_DOUBLE_EQ(prior.camera.fx, 66);
  EXPECT_DOUBLE_EQ(prior.camera.cx, 37);  // (18.25 + 0.5) * 2 - 0.5: the picture's edge scales, not a pixel's centre
  EXPECT_DOUBLE_EQ(prior.camera.cy, 32);
  EXPECT_EQ(prior.camera.source, FocalSource::kCameraFile);
  EXPECT_TRUE(prior.warnings.empty());
}

TEST(CameraPrior, LeavesACameraFileOfAnotherShapeOutAndSaysSo) {
  glintline::Setup setup;
  setup.camera = stored_camera();
  setup.camera_width = kWidth;
  setup.camera_height = kHeight;
  const CameraPrior prior = camera_prior(blank_photo(80, 45, 1), setup, 0.03);
  EXPECT_EQ(prior.camera.source, FocalSource::kDefault);
  ASSERT_EQ(prior.warnings.size(), 1U);
  EXPECT_NE(prior.warnings[0].find("40 x 30"), std::string::npos);
}

// CIPA DCG-001: the equivalent goes by the diagonal, 43.27 mm on film.
TEST(CameraPrior, TakesTheEquivalentFocalLengthByTheDiagonal) {
  Photo photo = blank_photo(4000, 3000, 6);
  photo.exif.focal_35mm = 26;
  const CameraPrior prior = camera_prior(photo, glintline::Setup{}, 0.035);
  EXPECT_NEAR(prior.camera.fx, 26.0 / 43.2666 * 5000, 0.1);
  EXPECT_NEAR(prior.camera.cx, 1499.5, 1e-9);
  EXPECT_NEAR(prior.camera.cy, 1999.5, 1e-9);
  EXPECT_EQ(prior.camera.source, FocalSource::kExif);
  EXPECT_GT(prior.u_log_focal, 0.02);
  EXPECT_LT(prior.u_log_focal, 0.05);
}

// Without EXIF the same card filling the frame may be a phone's main lens from 95 mm or a short tele from 300.
TEST(CameraPrior, HoldsLensesFromWideToTeleWhereNothingIsTold) {
  const Photo photo = blank_photo(4000, 3000, 1);
  const double across_mm = 150;  // the frame's diagonal on the wide card
  const CameraPrior prior = camera_prior(photo, glintline::Setup{}, across_mm / 5000);
  EXPECT_EQ(prior.camera.source, FocalSource::kDefault);
  for (const double equivalent : {16.0, 26.0, 50.0, 90.0}) {
    const double focal_px = equivalent / 43.2666 * 5000;
    EXPECT_LE(std::abs(std::log(focal_px / prior.camera.fx)), 2 * prior.u_log_focal) << equivalent;
  }
}

// At a magnification of 1/4 a lens moved as a whole stands a quarter farther out: inside 2 u of the prior.
TEST(CameraPrior, DoubtsTheEquivalentFocalLengthMoreTheCloserTheLensFocuses) {
  Photo photo = blank_photo(4000, 3000, 1);
  photo.exif.focal_35mm = 52;
  photo.exif.focal_mm = 9;
  const double pixel_mm = 9 / (52 / 43.2666 * 5000);
  const CameraPrior near = camera_prior(photo, glintline::Setup{}, pixel_mm / 0.25);
  const CameraPrior far = camera_prior(photo, glintline::Setup{}, pixel_mm / 0.02);
  EXPECT_GE(2 * near.u_log_focal, std::log(1.25));
  EXPECT_LT(far.u_log_focal, 0.025);
}

}  // namespace
}  // namespace glintline
