#include "pipeline/learn_lens.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "read/camera_file.h"
#include "report/lens_report.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using testing::ScratchFolder;

fs::path samples() { return fs::path(GLINTLINE_SOURCE_DIR) / "samples/photos"; }
fs::path lens_photos() { return fs::path(GLINTLINE_SOURCE_DIR) / "../shared/photos/lens"; }

TEST(LearnLens, NamesWhatEveryPhotographLacks) {
  const ScratchFolder folder;
  std::ofstream(folder / "broken.jpg") << "no picture";
  fs::copy_file(samples() / "profile-wide-1.jpg", folder / "again.jpg");
  const LensCalibration lens = learn_lens({samples() / "profile-wide-1.jpg", samples() / "profile-close-1.jpg",
                                           folder / "again.jpg", folder / "broken.jpg"},
                                          glintline::Setup{});
  ASSERT_TRUE(lens.refusal);
  EXPECT_EQ(lens.refusal->fault, Fault::kNotMeasurable);
  EXPECT_THAT(lens.refusal->what, HasSubstr("6 needed"));
  EXPECT_EQ(lens.photos.size(), 4U);
  const std::string text = lens_text(lens);
  EXPECT_THAT(text, HasSubstr("the same picture as another one"));
  EXPECT_THAT(text, HasSubstr("No camera learnt"));
  EXPECT_EQ(std::count_if(lens.photos.begin(), lens.photos.end(), [](const LensPhoto& p) { return !p.left_out; }), 1);
}

/// Eight rendered pictures of the card alone; true camera in the files beside them.
class SharedLensPhotos : public ::testing::Test {
 protected:
  void SetUp() override {
    if (!fs::exists(lens_photos())) GTEST_SKIP() << "the larger photograph set is not beside this checkout";
    std::vector<fs::path> paths;
    for (int i = 1; i <= 8; ++i) paths.push_back(lens_photos() / ("lens-" + std::to_string(i) + ".jpg"));
    lens_ = learn_lens(paths, glintline::Setup{});
    std::ifstream file(lens_photos() / "lens-1.json");
    truth_ = nlohmann::json::parse(file).at("camera").at("stored");
  }

  LensCalibration lens_;
  nlohmann::json truth_;
};

TEST_F(SharedLensPhotos, GiveTheTrueCamera) {
  ASSERT_FALSE(lens_.refusal) << lens_.refusal->what;
  const auto within = [&](LensParameter k, double value, double truth) {
    EXPECT_NEAR(value, truth, 2 * std::sqrt(lens_.covariance(k, k))) << k;
  };
  const auto& matrix = truth_.at("matrix");
  within(kLensFx, lens_.camera.fx, matrix[0][0]);
  within(kLensFy, lens_.camera.fy, matrix[1][1]);
  within(kLensCx, lens_.camera.cx, matrix[0][2]);
  within(kLensCy, lens_.camera.cy, matrix[1][2]);
  within(kLensK1, lens_.camera.distortion[0], truth_.at("distortion")[0]);
  within(kLensK2, lens_.camera.distortion[1], truth_.at("distortion")[1]);
  // A phone's autofocus moves it by half a per cent: the calibration must not be what limits.
  EXPECT_LT(lens_.camera.u_focal_rel, 0.002);
  EXPECT_LT(lens_.rms_px, 0.3);
}

TEST_F(SharedLensPhotos, ComeBackFromTheCameraFile) {
  const ScratchFolder folder;
  std::ofstream(folder / "lens.yml") << camera_yaml(lens_);
  const Result<CameraFile> file = read_camera_file(folder / "lens.yml");
  ASSERT_TRUE(file.ok()) << file.error().what;
  EXPECT_EQ(file->width, 2000);
  EXPECT_EQ(file->height, 1500);
  EXPECT_DOUBLE_EQ(file->camera.fx, lens_.camera.fx);
  EXPECT_DOUBLE_EQ(file->camera.cy, lens_.camera.cy);
  EXPECT_EQ(file->camera.distortion, lens_.camera.distortion);
  EXPECT_DOUBLE_EQ(file->camera.u_focal_rel, lens_.camera.u_focal_rel);
  EXPECT_DOUBLE_EQ(file->camera.u_centre_px, lens_.camera.u_centre_px);
}

TEST_F(SharedLensPhotos, GiveAPicture) {
  const Result<std::string> picture = lens_picture(lens_);
  ASSERT_TRUE(picture.ok()) << picture.error().what;
  EXPECT_EQ(picture->substr(0, 2), "\xFF\xD8");  // JPEG's start of image
}

}  // namespace
}  // namespace glintline
