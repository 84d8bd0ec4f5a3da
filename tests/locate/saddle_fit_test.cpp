#include "locate/saddle_fit.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>

#include "support/board_render.h"

namespace glintline {
namespace {

using testing::BoardScene;

// Noise-free renderings: the rays' spacing, 8-bit rounding and the pixel's square aperture, which the model takes as
// part of a Gaussian blur, leave some thousandths of a pixel.
constexpr double kNoiseFreePx = 0.01;
// The aperture matters where an unturned card is sharper than any camera's: by where the edge falls in its pixel.
constexpr double kSharpPx = 0.03;

const LinearLight& light() {
  static const LinearLight kLight;
  return kLight;
}

struct Tally {
  int seen = 0;
  double worst_px = 0;
  Point2 sum = Point2::Zero();
  double squares = 0;
  [[nodiscard]] Point2 mean() const { return sum / std::max(1, seen); }
};

SaddleGuess guess_of(const BoardScene& scene, const CardSaddle& saddle, const Point2& off) {
  SaddleGuess guess;
  const double q = scene.layout.square_mm();
  guess.px = testing::true_pixel(scene, saddle.at_mm) + off;
  guess.px_from_squares.col(0) =
      (testing::true_pixel(scene, saddle.at_mm + Point2(q / 8, 0)) - testing::true_pixel(scene, saddle.at_mm)) * 8;
  guess.px_from_squares.col(1) =
      (testing::true_pixel(scene, saddle.at_mm + Point2(0, q / 8)) - testing::true_pixel(scene, saddle.at_mm)) * 8;
  guess.dark_top_left = saddle.dark_top_left;
  return guess;
}

Tally errors_in(const BoardScene& scene, const Point2& guess_off = Point2(1.3, -0.9)) {
  const cv::Mat picture = testing::render_board(scene);
  Tally tally;
  for (const CardSaddle& saddle : scene.layout.saddles()) {
    const auto fit = fit_saddle(picture, light(), guess_of(scene, saddle, guess_off));
    if (!fit) continue;
    const Point2 error = fit->px - testing::true_pixel(scene, saddle.at_mm);
    ++tally.seen;
    tally.sum += error;
    tally.squares += error.squaredNorm();
    tally.worst_px = std::max(tally.worst_px, error.cwiseAbs().maxCoeff());
  }
  return tally;
}

// A corner of the wide card, 60 um a pixel at the coarsest the program promises.
BoardScene corner_scene(double um_per_px, double roll_rad, double tilt_rad) {
  BoardScene scene;
  scene.size = cv::Size(900, 700);
  scene.view.camera = testing::plain_camera(3000, scene.size);
  scene.view.camera.cx += 0.37;
  scene.view.camera.cy -= 0.21;
  const double distance_mm = um_per_px / 1000 * 3000;
  scene.view.camera_from_board = testing::camera_over({12, 10}, distance_mm, tilt_rad, 0.7, roll_rad);
  scene.blur_px = 0.9;
  return scene;
}

// The convention without a renderer: columns 0 to 99 and rows 0 to 79 are one square of whole pixels, so its corner
// lies half a pixel beyond the centre of pixel (99, 79); a symmetric blur leaves it there.
TEST(SaddleFit, CountsFromPixelCentres) {
  cv::Mat picture(160, 200, CV_8UC3);
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      const bool dark = (x < 100) == (y < 80);
      picture.at<cv::Vec3b>(y, x) = dark ? cv::Vec3b(40, 40, 40) : cv::Vec3b(220, 220, 220);
    }
  }
  cv::GaussianBlur(picture, picture, {}, 1);
  SaddleGuess guess;
  guess.px = Point2(98, 81);
  guess.px_from_squares = Eigen::Matrix2d::Identity() * 120;
  guess.dark_top_left = true;
  const auto fit = fit_saddle(picture, light(), guess);
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->px.x(), 99.5, kNoiseFreePx);
  EXPECT_NEAR(fit->px.y(), 79.5, kNoiseFreePx);
}

TEST(SaddleFit, IsUnbiasedAtAnyScaleTurnTiltAndBlur) {
  for (const double um_per_px : {60.0, 35.0, 20.0}) {
    for (const double roll : {0.0, 0.35, 2.0, 4.5}) {
      for (const double blur : {0.6, 1.6}) {
        BoardScene scene = corner_scene(um_per_px, roll, roll == 0 ? 0 : 0.3);
        scene.blur_px = blur;
        const Tally tally = errors_in(scene);
        ASSERT_GE(tally.seen, 6) << um_per_px << " um/px, roll " << roll;
        // Unturned, all edges fall alike in their pixels and nothing averages.
        EXPECT_LE(tally.mean().norm(), roll == 0 && blur < 1 ? kSharpPx : kNoiseFreePx)
            << um_per_px << " um/px, roll " << roll << ", blur " << blur;
        EXPECT_LE(tally.worst_px, blur < 1 ? kSharpPx : 1.5 * kNoiseFreePx)
            << um_per_px << " um/px, roll " << roll << ", blur " << blur;
      }
    }
  }
}

TEST(SaddleFit, StaysWhenInkSpreadsLightFallsOffAndTheCameraSharpens) {
  BoardScene scene = corner_scene(35, 0.2, 0.1);
  scene.ink_spread_mm = 0.02;
  EXPECT_LE(errors_in(scene).worst_px, kNoiseFreePx);
  scene.sharpen = 0.7;
  EXPECT_LE(errors_in(scene).worst_px, kNoiseFreePx);
  // Half the light is lost across the 900 px: the model's shading is straight, the encoding is undone before it.
  scene.light_gradient = 0.7;
  EXPECT_LE(errors_in(scene).worst_px, kNoiseFreePx);
}

// White noise: the fit's own uncertainty holds, and the mean stays put.
TEST(SaddleFit, KnowsItsUncertaintyUnderWhiteNoise) {
  BoardScene scene = corner_scene(35, 0.4, 0.15);
  scene.noise_8bit = 3;
  double z2 = 0;
  Point2 sum = Point2::Zero();
  int count = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    scene.seed = seed;
    const cv::Mat picture = testing::render_board(scene);
    for (const CardSaddle& saddle : scene.layout.saddles()) {
      const auto fit = fit_saddle(picture, light(), guess_of(scene, saddle, {0.4, 0.3}));
      if (!fit) continue;
      const Point2 error = fit->px - testing::true_pixel(scene, saddle.at_mm);
      z2 += error.squaredNorm() / (2 * fit->u_px * fit->u_px);
      sum += error;
      ++count;
    }
  }
  ASSERT_GE(count, 200);
  // The mean of 2 n squared standard normals misses 1 by 1 / sqrt(n), 7 %: three of those.
  EXPECT_NEAR(z2 / count, 1, 0.2);
  EXPECT_LE((sum / count).norm(), 0.01);
}

TEST(SaddleFit, FindsNothingWhereThePatternIsTheOtherWayRoundOrAbsent) {
  const BoardScene scene = corner_scene(35, 0, 0);
  const cv::Mat picture = testing::render_board(scene);
  SaddleGuess guess = guess_of(scene, scene.layout.saddles().front(), {0, 0});
  guess.dark_top_left = !guess.dark_top_left;
  const auto inverted = fit_saddle(picture, light(), guess);
  EXPECT_TRUE(!inverted || inverted->likeness < 0.5);
  guess.px = testing::true_pixel(scene, {7.5, -2.5});  // blank margin
  const auto blank = fit_saddle(picture, light(), guess);
  EXPECT_TRUE(!blank || blank->likeness < 0.5 || blank->contrast < 0.1);
  guess.px = Point2(2, 2);  // window cut off by the picture's edge
  EXPECT_FALSE(fit_saddle(picture, light(), guess));
}

// Sawdust over a fifth of the window: either the misfit shows, or the saddle has hardly moved.
TEST(SaddleFit, ShowsACoveredCrossingByItsMisfit) {
  BoardScene scene = corner_scene(35, 0.1, 0);
  const std::vector<CardSaddle> saddles = scene.layout.saddles();
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> offset(-0.5, 0.5);
  for (const CardSaddle& s : saddles) {
    const Point2 at = s.at_mm + Point2(offset(random), offset(random));
    scene.covers.push_back({at - Point2(0.25, 0.25), at + Point2(0.25, 0.25), 0.35});
  }
  const cv::Mat picture = testing::render_board(scene);
  int moved_unseen = 0;
  int seen = 0;
  for (const CardSaddle& saddle : saddles) {
    const auto fit = fit_saddle(picture, light(), guess_of(scene, saddle, {0, 0}));
    if (!fit) continue;
    ++seen;
    const double error = (fit->px - testing::true_pixel(scene, saddle.at_mm)).norm();
    if (fit->likeness >= 0.88 && error > 0.6) ++moved_unseen;
  }
  ASSERT_GE(seen, 10);
  EXPECT_EQ(moved_unseen, 0);
}

}  // namespace
}  // namespace glintline
