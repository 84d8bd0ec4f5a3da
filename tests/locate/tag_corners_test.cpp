#include "locate/tag_corners.h"

#include <gtest/gtest.h>

#include <cstdio>

#include "locate/locate_card.h"
#include "support/board_render.h"

namespace glintline {
namespace {

using testing::BoardScene;

// Corners of a rendered tag against where the exact camera sees them, for several blurs.
TEST(TagCorners, LieWhereTheTagIsUnderAnyBlur) {
  for (const double blur : {0.8, 1.4, 2.0}) {
    BoardScene scene;  // pixels are encoded levels, as a camera stores them
    scene.size = cv::Size(2000, 1500);
    scene.view.camera = testing::plain_camera(1560, scene.size);
    scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 95, 0.07, 0.8, 0.3);
    scene.blur_px = blur;
    scene.noise_8bit = 2;
    scene.tags = {{7, {45, 33}}, {8, {62, 42}}};
    const auto pose = locate_card(testing::photographed(scene, 27), glintline::Setup{});
    ASSERT_TRUE(pose) << pose.error().what;
    ASSERT_EQ(pose->tags.size(), 2U);
    const double half = scene.layout.number_tag().marker_mm / 2;
    double outwards = 0, worst = 0;
    for (const NumberTag& tag : pose->tags) {
      const Point2 centre = tag.number == 7 ? Point2(45, 33) : Point2(62, 42);
      const Point2 middle = scene.view.pixel(Point3(centre.x(), centre.y(), 0));
      for (const Point2& seen : tag.corners_px) {
        double nearest = 1e9;
        Point2 error = Point2::Zero();
        for (const double x : {-half, half}) {
          for (const double y : {-half, half}) {
            const Point2 exact = scene.view.pixel(Point3(centre.x() + x, centre.y() + y, 0));
            if ((seen - exact).norm() >= nearest) continue;
            nearest = (seen - exact).norm();
            error = seen - exact;
          }
        }
        worst = std::max(worst, nearest);
        outwards += error.dot((seen - middle).normalized()) / 8;
      }
    }
    std::printf("tag corners, blur %.1f px: mean %.3f px outwards, worst %.3f px\n", blur, outwards, worst);
    // What the height of a tag on a top plate takes for granted (measure/tag_height.cpp).
    EXPECT_LT(std::abs(outwards), 0.15) << blur;
    EXPECT_LT(worst, 0.4) << blur;
  }
}

}  // namespace
}  // namespace glintline
