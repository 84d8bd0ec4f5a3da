#include "read/camera_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <opencv2/core/persistence.hpp>

#include "read/written_file.h"

namespace glintline {
namespace {

using ::testing::HasSubstr;
using testing::WrittenFile;

/// Written by OpenCV itself, the general-purpose reference for its own format.
std::string written(const cv::Mat& k, const cv::Mat& d, int width = 4000, int height = 3000,
                    const std::string& suffix = ".yml") {
  cv::FileStorage file(suffix, cv::FileStorage::WRITE | cv::FileStorage::MEMORY);
  file << "calibration_time"
       << "Mon 1 Jun"
       << "image_width" << width << "image_height" << height << "camera_matrix" << k;
  if (!d.empty()) file << "distortion_coefficients" << d;
  return file.releaseAndGetString();
}

const cv::Mat kGood = (cv::Mat_<double>(3, 3) << 3100, 0, 2010, 0, 3105, 1490, 0, 0, 1);
const cv::Mat kLens = (cv::Mat_<double>(1, 5) << 0.08, -0.2, 0.001, -0.002, 0.1);

Result<CameraFile> camera_of(const std::string& text, const std::string& name = "camera.yml") {
  const WrittenFile file(name, text);
  return read_camera_file(file.path());
}

TEST(CameraFile, ReadsWhatOpenCvWrote) {
  for (const char* suffix : {".yml", ".xml", ".json"}) {
    const auto file = camera_of(written(kGood, kLens, 4000, 3000, suffix), std::string("camera") + suffix);
    ASSERT_TRUE(file) << suffix << " " << file.error().what;
    EXPECT_EQ(file->width, 4000);
    EXPECT_EQ(file->height, 3000);
    EXPECT_EQ(file->camera.fx, 3100);
    EXPECT_EQ(file->camera.fy, 3105);
    EXPECT_EQ(file->camera.cx, 2010);
    EXPECT_EQ(file->camera.cy, 1490);
    EXPECT_THAT(file->camera.distortion, ::testing::ElementsAre(0.08, -0.2, 0.001, -0.002, 0.1));
    EXPECT_EQ(file->camera.source, FocalSource::kCameraFile);
    EXPECT_GT(file->camera.u_focal_rel, 0);
    EXPECT_GT(file->camera.u_centre_px, 0);
  }
}

TEST(CameraFile, TakesColumnsFloatsAndFewerCoefficients) {
  cv::Mat single;
  kGood.convertTo(single, CV_32F);
  const auto file = camera_of(written(single, (cv::Mat_<double>(4, 1) << 0.1, 0, 0, 0)));
  ASSERT_TRUE(file);
  EXPECT_EQ(file->camera.distortion[0], 0.1);
  EXPECT_EQ(file->camera.distortion[4], 0);
  EXPECT_TRUE(camera_of(written(kGood, {})));
  EXPECT_TRUE(camera_of(written(kGood, cv::Mat::zeros(1, 8, CV_64F))));
}

TEST(CameraFile, OfTheExampleHoldsItsUncertainties) {
  const auto file = read_camera_file(std::filesystem::path(GLINTLINE_SOURCE_DIR) / "calib/example-camera.yml");
  ASSERT_TRUE(file) << file.error().what;
  EXPECT_EQ(file->camera.u_focal_rel, 0.008);
  EXPECT_EQ(file->camera.u_centre_px, 12);
}

TEST(CameraFile, RefusesWhatIsNoCamera) {
  cv::Mat turned = kGood.clone();
  turned.at<double>(0, 0) = -3100;
  cv::Mat other_size = kGood.clone();
  other_size.at<double>(0, 2) = 4100;
  cv::Mat not_number = kGood.clone();
  not_number.at<double>(0, 0) = std::nan("");
  cv::Mat anamorphic = kGood.clone();
  anamorphic.at<double>(1, 1) = 1500;
  for (const cv::Mat& k :
       {turned, other_size, not_number, anamorphic, cv::Mat(kGood.t()), cv::Mat(kGood.rowRange(0, 2))}) {
    EXPECT_EQ(camera_of(written(k, kLens)).error().fault, Fault::kBadOption);
  }
  EXPECT_FALSE(camera_of(written(kGood, (cv::Mat_<double>(1, 5) << 50, 0, 0, 0, 0))));
  EXPECT_FALSE(camera_of(written(kGood, cv::Mat::ones(1, 8, CV_64F))));
  EXPECT_FALSE(camera_of(written(kGood, kLens, 0, 3000)));
}

TEST(CameraFile, RefusesWhatIsNoCameraFileInOneLine) {
  for (const char* text :
       {"", "hello", "%YAML:1.0\n---\nimage_width: [", "%YAML:1.0\n---\nimage_width: 4000\n",
        "%YAML:1.0\n---\ncamera_matrix: 5\nimage_width: 4000\nimage_height: 3000\n",
        "%YAML:1.0\n---\nimage_width: 4000\nimage_height: 3000\ncamera_matrix: !!opencv-matrix\n   rows: 3\n",
        "{ \"a\": ", "<?xml version=\"1.0\"?><opencv_storage>",
        "\x7f"
        "ELF"}) {
    const auto file = camera_of(text);
    ASSERT_FALSE(file) << text;
    EXPECT_EQ(file.error().fault, Fault::kBadOption);
    EXPECT_EQ(file.error().what.find('\n'), std::string::npos);
    EXPECT_THAT(file.error().where, HasSubstr("camera.yml"));
  }
  EXPECT_EQ(read_camera_file("/no/such/camera.yml").error().fault, Fault::kFileMissing);
}

}  // namespace
}  // namespace glintline
