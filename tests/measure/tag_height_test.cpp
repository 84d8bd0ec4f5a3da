#include "measure/tag_height.h"

#include <gtest/gtest.h>

#include <random>

#include "measure/known_cutter.h"

namespace glintline {
namespace {

constexpr double kSideMm = 6;

/// A tag at a height, falling by `slope_rad` along its first side, its corners scattered by `noise_px`.
NumberTag tag_at(const CameraView& view, double height_mm, double slope_rad, double noise_px, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> off(0, 1);
  NumberTag tag;
  tag.number = 7;
  const std::array<Point2, 4> places{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}};
  for (int i = 0; i < 4; ++i) {
    const double along = kSideMm * (places[i].x() - 0.5);
    const Point3 place(40 + along * std::cos(slope_rad), 30 + kSideMm * places[i].y(),
                       -(height_mm + along * std::sin(slope_rad)));
    tag.corners_px[i] = view.pixel(place) + noise_px * Point2(off(random), off(random));
  }
  return tag;
}

CardPose pose_with(const NumberTag& tag) {
  CardPose pose = testing::pose_of(testing::KnownScene());
  pose.tags = {tag};
  return pose;
}

TEST(TagHeight, IsExactForExactCorners) {
  const CameraView view = testing::KnownScene().view();
  for (const double height : {0.0, 1.5, 2.5, 4.0}) {
    const NumberTag tag = tag_at(view, height, 0, 0, 0);
    EXPECT_NEAR(height_of_tag(tag, pose_with(tag), kSideMm).value_mm, height, 1e-6);
  }
}

TEST(TagHeight, HoldsOnAFallingPlateUnderNoise) {
  const CameraView view = testing::KnownScene().view();
  int inside = 0;
  constexpr unsigned kSeeds = 200;
  for (unsigned seed = 0; seed < kSeeds; ++seed) {
    const NumberTag tag = tag_at(view, 2.4, 0.09, 0.3, seed);
    const KnownLength height = height_of_tag(tag, pose_with(tag), kSideMm);
    inside += std::abs(height.value_mm - 2.4) <= 2 * height.u_mm ? 1 : 0;
    EXPECT_LT(height.u_mm, 0.25);  // against 0.58 mm where nothing is known
  }
  EXPECT_GE(inside, 190);
}

TEST(TagHeight, LeavesTagsOnTheCardAlone) {
  const CameraView view = testing::KnownScene().view();
  const NumberTag on_card = tag_at(view, 0, 0, 0.3, 5);
  EXPECT_FALSE(height_of_plates(pose_with(on_card), kSideMm));
  CardPose both = pose_with(on_card);
  both.tags.push_back(tag_at(view, 2.6, 0.05, 0.3, 6));
  const auto height = height_of_plates(both, kSideMm);
  ASSERT_TRUE(height);
  EXPECT_NEAR(height->value_mm, 2.5, 2 * height->u_mm);  // less the paper
}

}  // namespace
}  // namespace glintline
