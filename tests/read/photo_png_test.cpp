#include <gtest/gtest.h>
#include <png.h>

#include <cmath>
#include <opencv2/core.hpp>

#include "read/photo_file.h"
#include "read/photo_samples.h"

namespace glintline {
namespace {

using testing::FileBytes;
using testing::PngOptions;
using testing::scene;
using testing::written;

constexpr int kWidth = 640;
constexpr int kHeight = 480;

/// Rows that repeat `samples` along every row of a kWidth x kHeight picture, padded with the last of them.
std::vector<FileBytes> repeated(const FileBytes& samples, std::size_t row_bytes) {
  FileBytes row;
  while (row.size() < row_bytes) row.insert(row.end(), samples.begin(), samples.end());
  row.resize(row_bytes);
  return std::vector<FileBytes>(kHeight, row);
}

cv::Mat read_png(PngOptions options, const std::vector<FileBytes>& rows) {
  options.size = {kWidth, kHeight};
  const auto photo = read_photo(written(testing::png(options, rows), "picture.png"));
  EXPECT_TRUE(photo.ok()) << photo.error().what;
  return photo ? photo->bgr : cv::Mat(kHeight, kWidth, CV_8UC3, cv::Scalar::all(0));
}

cv::Vec3b pixel(const cv::Mat& bgr, int x) { return bgr.at<cv::Vec3b>(kHeight / 2, x); }

TEST(PhotoPng, EightBitColourIsExact) {
  const auto picture = scene({733, 541});
  for (const bool interlaced : {false, true}) {
    const auto photo = read_photo(written(testing::png(picture, interlaced)));
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    EXPECT_EQ(cv::norm(photo->bgr, picture, cv::NORM_INF), 0);
  }
}

TEST(PhotoPng, SixteenBitsAreRounded) {
  const FileBytes samples = {0xAB, 0xCD, 0x00, 0x80, 0xFF, 0xFF, 0x12, 0x34, 0x80, 0x80, 0xFE, 0x80};
  const auto bgr = read_png({.depth = 16}, repeated(samples, kWidth * 6));
  for (int x = 0; x < 2; ++x) {
    for (int channel = 0; channel < 3; ++channel) {
      const std::size_t at = static_cast<std::size_t>(6 * x + 2 * channel);
      const int wide = samples[at] * 256 + samples[at + 1];
      EXPECT_EQ(pixel(bgr, x)[2 - channel], std::lround(wide * 255 / 65535.0));
    }
  }
}

TEST(PhotoPng, GreyOfEveryDepthFillsAllChannels) {
  EXPECT_EQ(pixel(read_png({.colour_type = PNG_COLOR_TYPE_GRAY}, repeated({7, 200}, kWidth)), 1),
            cv::Vec3b(200, 200, 200));
  EXPECT_EQ(pixel(read_png({.colour_type = PNG_COLOR_TYPE_GRAY, .depth = 16}, repeated({0x40, 0}, kWidth * 2)), 1),
            cv::Vec3b(64, 64, 64));
  // PNG (third edition) 13.12: a sample of depth n stands for 255 s / (2^n - 1).
  EXPECT_EQ(pixel(read_png({.colour_type = PNG_COLOR_TYPE_GRAY, .depth = 4}, repeated({0x3A}, kWidth / 2)), 1),
            cv::Vec3b(0xAA, 0xAA, 0xAA));
  EXPECT_EQ(pixel(read_png({.colour_type = PNG_COLOR_TYPE_GRAY, .depth = 1}, repeated({0x55}, kWidth / 8)), 1),
            cv::Vec3b(255, 255, 255));
}

TEST(PhotoPng, PalettesAreLookedUp) {
  const auto bgr =
      read_png({.colour_type = PNG_COLOR_TYPE_PALETTE, .palette = {20, 70, 190, 1, 2, 3}}, repeated({0, 1}, kWidth));
  EXPECT_EQ(pixel(bgr, 0), cv::Vec3b(190, 70, 20));
  EXPECT_EQ(pixel(bgr, 1), cv::Vec3b(3, 2, 1));
}

TEST(PhotoPng, TransparencyShowsWhite) {
  const FileBytes samples = {10, 20, 30, 255, 10, 20, 30, 0, 0, 0, 0, 128};
  const auto bgr = read_png({.colour_type = PNG_COLOR_TYPE_RGB_ALPHA}, repeated(samples, kWidth * 4));
  EXPECT_EQ(pixel(bgr, 0), cv::Vec3b(30, 20, 10));
  EXPECT_EQ(pixel(bgr, 1), cv::Vec3b(255, 255, 255));
  EXPECT_GT(pixel(bgr, 2)[0], 100);
  EXPECT_LT(pixel(bgr, 2)[0], 220);

  const auto grey = read_png({.colour_type = PNG_COLOR_TYPE_GRAY_ALPHA}, repeated({90, 255, 90, 0}, kWidth * 2));
  EXPECT_EQ(pixel(grey, 0), cv::Vec3b(90, 90, 90));
  EXPECT_EQ(pixel(grey, 1), cv::Vec3b(255, 255, 255));

  const auto palette =
      read_png({.colour_type = PNG_COLOR_TYPE_PALETTE, .palette = {20, 70, 190, 1, 2, 3}, .palette_alpha = {255, 0}},
               repeated({0, 1}, kWidth));
  EXPECT_EQ(pixel(palette, 0), cv::Vec3b(190, 70, 20));
  EXPECT_EQ(pixel(palette, 1), cv::Vec3b(255, 255, 255));

  const FileBytes wide = {0x40, 0, 0x40, 0, 0x40, 0, 0xFF, 0xFF, 0x40, 0, 0x40, 0, 0x40, 0, 0, 0};
  const auto deep = read_png({.colour_type = PNG_COLOR_TYPE_RGB_ALPHA, .depth = 16}, repeated(wide, kWidth * 8));
  EXPECT_EQ(pixel(deep, 0), cv::Vec3b(64, 64, 64));
  EXPECT_EQ(pixel(deep, 1), cv::Vec3b(255, 255, 255));
}

// A file that says its samples are linear must come out on sRGB's curve, or linearising it later counts twice. libpng
// takes sRGB's curve as a power of 1/2.2.
TEST(PhotoPng, OtherToneCurvesAreBroughtToSrgb) {
  const auto linear = read_png({.colour_type = PNG_COLOR_TYPE_GRAY, .gamma = 1.0}, repeated({55}, kWidth));
  EXPECT_NEAR(pixel(linear, 0)[0], 255 * std::pow(55 / 255.0, 1 / 2.2), 1);
  const auto usual = read_png({.colour_type = PNG_COLOR_TYPE_GRAY, .gamma = 0.45455}, repeated({55}, kWidth));
  EXPECT_EQ(pixel(usual, 0)[0], 55);
}

}  // namespace
}  // namespace glintline
