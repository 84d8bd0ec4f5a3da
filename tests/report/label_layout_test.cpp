#include "report/label_layout.h"

#include <gtest/gtest.h>

#include <random>

namespace glintline {
namespace {

bool overlap(const Area& a, const Area& b) {
  return a.x < b.x + b.width && b.x < a.x + a.width && a.y < b.y + b.height && b.y < a.y + a.height;
}

TEST(LabelLayout, LabelsNeverCoverEachOtherOrWhatMustStayFree) {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> x(0, 600);
  std::uniform_real_distribution<double> y(0, 400);
  for (int trial = 0; trial < 50; ++trial) {
    LabelLayout layout(600, 400);
    const Area kept{200, 150, 150, 100};
    layout.keep_hull_free({{200, 150}, {350, 150}, {350, 250}, {200, 250}});
    std::vector<Area> placed;
    for (int i = 0; i < 8; ++i) {
      const auto box = layout.place({x(random), y(random)}, 120, 30);
      if (!box) continue;
      EXPECT_GE(box->x, 0);
      EXPECT_GE(box->y, 0);
      EXPECT_LE(box->x + box->width, 600);
      EXPECT_LE(box->y + box->height, 400);
      EXPECT_FALSE(overlap(*box, kept));
      for (const Area& other : placed) EXPECT_FALSE(overlap(*box, other));
      placed.push_back(*box);
    }
    EXPECT_GE(placed.size(), 6U) << "there is room for more";
  }
}

TEST(LabelLayout, StandsAboveItsAnchorWhereAllIsFree) {
  LabelLayout layout(400, 400);
  const auto box = layout.place({200, 200}, 100, 30);
  ASSERT_TRUE(box);
  EXPECT_LT(box->y + box->height, 200);
  EXPECT_NEAR(box->x + box->width / 2, 200, 1);
}

TEST(LabelLayout, GivesUpWhereThereIsNoRoom) {
  LabelLayout layout(100, 100);
  EXPECT_FALSE(layout.place({50, 50}, 120, 20));
  layout.keep_hull_free({{0, 0}, {100, 0}, {100, 100}, {0, 100}});
  EXPECT_FALSE(layout.place({50, 50}, 20, 20));
}

}  // namespace
}  // namespace glintline
