#include <gtest/gtest.h>

#include <opencv2/core.hpp>
#include <string>

#include "read/photo_file.h"
#include "read/photo_samples.h"
#include "support/truth.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using testing::exif_block;
using testing::ExifEntries;
using testing::sample;
using testing::scene;
using testing::written;

// Nine encodings of one picture at quality 75 lie about 2 levels apart (the larger originals 1); wrongly turned ones
// more than 20.
constexpr double kEncodingNoise_levels = 4;

// The focal length is written with one decimal.
constexpr double kExifFocal_mm = 0.051;

/// EXIF 2.32, tag 0112, by OpenCV's own turning: an independent statement of the eight orientations.
cv::Mat turned_by_opencv(const cv::Mat& stored, int orientation) {
  cv::Mat upright = stored.clone();
  if (orientation >= 5) cv::transpose(stored, upright);
  switch (orientation) {
    case 2:
    case 6:
      cv::flip(upright, upright, 1);
      break;
    case 4:
    case 8:
      cv::flip(upright, upright, 0);
      break;
    case 3:
    case 7:
      cv::flip(upright, upright, -1);
      break;
    default:
      break;
  }
  return upright;
}

bool same_pixels(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && a.type() == b.type() && cv::norm(a, b, cv::NORM_INF) == 0;
}

/// Mean difference per channel, outside the middle where the pictures carry their number.
double mean_difference(const cv::Mat& a, const cv::Mat& b) {
  cv::Mat mask(a.size(), CV_8UC1, cv::Scalar(255));
  mask(cv::Rect(a.cols * 2 / 5, a.rows * 2 / 5, a.cols / 5, a.rows / 5)).setTo(0);
  return cv::norm(a, b, cv::NORM_L1, mask) / (3.0 * cv::countNonZero(mask));
}

void expect_all_upright(const fs::path& folder, const std::string& prefix, cv::Size size) {
  const auto reference = read_photo(folder / (prefix + "1.jpg"));
  ASSERT_TRUE(reference.ok()) << reference.error().what;
  for (int i = 0; i <= 8; ++i) {
    const auto photo = read_photo(folder / (prefix + std::to_string(i) + ".jpg"));
    ASSERT_TRUE(photo.ok()) << i << ": " << photo.error().what;
    EXPECT_EQ(photo->exif.orientation, i == 0 ? 1 : i);
    ASSERT_EQ(photo->bgr.size(), size) << i;
    EXPECT_EQ(photo->stored_size(), i >= 5 ? cv::Size(size.height, size.width) : size) << i;
    EXPECT_LE(mean_difference(photo->bgr, reference->bgr), kEncodingNoise_levels) << i;
  }
}

TEST(PhotoOrientation, RealPicturesOfAllOrientationsAreTheSameUpright) {
  expect_all_upright(sample(""), "orientation_", {720, 480});
}

TEST(PhotoOrientation, LargerOriginalsAreTheSameUpright) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  expect_all_upright(*set / "real" / "exif-orientation", "Landscape_", {1800, 1200});
}

TEST(PhotoOrientation, AWronglyTurnedPictureWouldBeNoticed) {
  const auto photo = read_photo(sample("orientation_1.jpg"));
  ASSERT_TRUE(photo.ok());
  for (const int code : {-1, 0, 1}) {
    cv::Mat wrong;
    cv::flip(photo->bgr, wrong, code);
    EXPECT_GT(mean_difference(photo->bgr, wrong), 5 * kEncodingNoise_levels);
  }
}

// Sizes that are no multiple of a strip, of a JPEG block or of a cache line, and one strip or less in height.
class EveryOrientation : public ::testing::TestWithParam<int> {};

TEST_P(EveryOrientation, JpegMovesEveryPixelExactly) {
  for (const cv::Size size : {cv::Size(733, 541), cv::Size(640, 480), cv::Size(1365, 513)}) {
    testing::JpegOptions options;
    options.exif = exif_block({.orientation = static_cast<std::uint16_t>(GetParam())});
    const auto bytes = testing::jpeg(scene(size), options);
    const auto photo = read_photo(written(bytes));
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    EXPECT_TRUE(same_pixels(photo->bgr, turned_by_opencv(testing::plain_jpeg_decode(bytes), GetParam()))) << size;
  }
}

TEST_P(EveryOrientation, PngMovesEveryPixelExactly) {
  const auto stored = scene({733, 541});
  const auto exif = exif_block({.orientation = static_cast<std::uint16_t>(GetParam())});
  for (const bool interlaced : {false, true}) {
    const auto photo = read_photo(written(testing::png(stored, interlaced, exif)));
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    EXPECT_EQ(photo->exif.orientation, GetParam());
    EXPECT_TRUE(same_pixels(photo->bgr, turned_by_opencv(stored, GetParam())));
  }
}

INSTANTIATE_TEST_SUITE_P(PhotoOrientation, EveryOrientation, ::testing::Range(1, 9));

TEST(PhotoOrientation, SenselessOnesCountAsUpright) {
  const auto stored = scene({640, 480});
  for (const std::uint16_t senseless : {0, 9, 255, 65535}) {
    testing::JpegOptions options;
    options.exif = exif_block({.orientation = senseless});
    const auto bytes = testing::jpeg(stored, options);
    const auto photo = read_photo(written(bytes));
    ASSERT_TRUE(photo.ok());
    EXPECT_EQ(photo->exif.orientation, 1);
    EXPECT_TRUE(same_pixels(photo->bgr, testing::plain_jpeg_decode(bytes)));
  }
}

TEST(PhotoOrientation, TheLargerSetHasTheSizesOfItsTruth) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  for (const auto& entry : fs::directory_iterator(*set)) {
    if (entry.path().extension() != ".jpg") continue;
    const auto truth = testing::truth_of(entry.path());
    const auto photo = read_photo(entry.path());
    ASSERT_TRUE(photo.ok()) << entry.path() << photo.error().what;
    EXPECT_EQ(photo->exif.orientation, truth["image"]["orientation"].get<int>()) << entry.path();
    EXPECT_EQ(photo->bgr.cols, truth["image"]["upright_width"].get<int>()) << entry.path();
    EXPECT_EQ(photo->bgr.rows, truth["image"]["upright_height"].get<int>()) << entry.path();
    EXPECT_NEAR(photo->exif.focal_mm.value_or(0), truth["camera"]["focal_mm"].get<double>(), kExifFocal_mm);
    EXPECT_TRUE(photo->exif.focal_35mm.has_value()) << entry.path();
    EXPECT_EQ(photo->colour_profile, "") << entry.path();
  }
}

}  // namespace
}  // namespace glintline
