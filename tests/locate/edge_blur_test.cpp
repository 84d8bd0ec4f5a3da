#include "locate/edge_blur.h"

#include <gtest/gtest.h>

#include "locate/locate_card.h"
#include "support/board_render.h"

namespace glintline {
namespace {

using testing::BoardScene;

BoardScene scene_over_the_card(double blur_px) {
  BoardScene scene;
  scene.size = cv::Size(2000, 1500);
  scene.view.camera = testing::plain_camera(1500, scene.size);
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 90, 0.05, 1, 0.05);
  scene.blur_px = blur_px;
  scene.noise_8bit = 1.5;
  return scene;
}

// The pixel's own square aperture adds 1/12 px^2 to the Gaussian's variance.
TEST(EdgeBlur, MeasuresTheBlurOfTheCardsEdges) {
  for (const double blur : {0.7, 1.2, 2.0}) {
    const auto pose = locate_card(testing::photographed(scene_over_the_card(blur), 26), glintline::Setup{});
    ASSERT_TRUE(pose) << pose.error().what;
    EXPECT_NEAR(pose->blur_px, std::sqrt(blur * blur + 1.0 / 12), 0.06);  // by the erf's misfit to the pixel's square
    EXPECT_LT(pose->overshoot, 0.02);
  }
}

TEST(EdgeBlur, SeesTheHaloOfSharpening) {
  BoardScene scene = scene_over_the_card(1.2);
  double before = 0.008;
  for (const double amount : {0.5, 1.0, 1.5}) {
    scene.sharpen = amount;
    const auto pose = locate_card(testing::photographed(scene, 26), glintline::Setup{});
    ASSERT_TRUE(pose) << pose.error().what;
    EXPECT_GT(pose->overshoot, before);
    before = pose->overshoot + 0.005;
  }
}

// The strongest sharpening bends an edge so far from a blurred step that none fits it well, and its halo lies beyond
// 3.5 of the blurs that are left.
TEST(EdgeBlur, SeesTheHaloOfTheStrongestSharpeningOfASharpPicture) {
  BoardScene scene = scene_over_the_card(0.6);
  scene.sharpen = 2;
  const auto pose = locate_card(testing::photographed(scene, 26), glintline::Setup{});
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_GT(pose->overshoot, 0.1);
  EXPECT_GT(pose->blur_px, 0.2);
}

}  // namespace
}  // namespace glintline
