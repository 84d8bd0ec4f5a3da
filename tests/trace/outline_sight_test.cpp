#include "trace/outline_sight.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <opencv2/imgproc.hpp>
#include <random>

namespace glintline {
namespace {

constexpr int kEdgeRow = 60;  // steel from here down
constexpr double kBlurPx = 0.8;
const cv::Vec3b kField(65, 9, 112);  // a magenta sheet in an ordinary exposure

/// A picture of the field with whatever lies below `kEdgeRow`, seen at the photograph's own scale.
struct Drawn {
  FieldColour field;
  CutterScene scene;

  explicit Drawn(const cv::Mat& picture) : field(*learn_field_colour(cv::Mat(40, 40, CV_8UC3, cv::Scalar(kField)))) {
    scene.field = &field;
    cv::GaussianBlur(picture, scene.picture, {}, kBlurPx);
    scene.blur = 1.2;
    cv::Mat noise(picture.size(), CV_16SC3);
    cv::RNG(7).fill(noise, cv::RNG::NORMAL, 0, 4);
    cv::add(scene.picture, noise, scene.picture, cv::noArray(), CV_8U);
  }

  /// Colour at half the resolution of brightness, as JPEG's 4:2:0 stores it (ITU-T T.871), drawn out again linearly.
  void coarsen_colour() {
    cv::Mat ycc;
    cv::cvtColor(scene.picture, ycc, cv::COLOR_BGR2YCrCb);
    std::vector<cv::Mat> planes;
    cv::split(ycc, planes);
    for (int i : {1, 2}) {
      cv::Mat half;
      cv::resize(planes[i], half, {}, 0.5, 0.5, cv::INTER_AREA);
      cv::resize(half, planes[i], planes[i].size(), 0, 0, cv::INTER_LINEAR);
    }
    cv::merge(planes, ycc);
    cv::cvtColor(ycc, scene.picture, cv::COLOR_YCrCb2BGR);
  }

  [[nodiscard]] std::vector<OutlineSighting> look() const {
    std::vector<OutlineSighting> seen;
    for (int x = 20; x < 100; x += 2) {
      if (auto s = sight(scene, Point2(x, kEdgeRow), {0, 1}, 3)) seen.push_back(*s);
    }
    return seen;
  }
};

cv::Mat field_above_steel(const cv::Vec3b& steel) {
  cv::Mat picture(120, 120, CV_8UC3, cv::Scalar(kField));
  picture.rowRange(kEdgeRow, 120).setTo(cv::Scalar(steel));
  return picture;
}

TEST(OutlineSight, SeesNoStripWhereOnlyColourIsCarriedOut) {
  Drawn drawn(field_above_steel({80, 80, 85}));
  drawn.coarsen_colour();
  const auto seen = drawn.look();
  ASSERT_GE(seen.size(), 30U);
  const auto strips = std::count_if(seen.begin(), seen.end(), [](const auto& s) { return s.drop && s.mirror > 1; });
  EXPECT_EQ(strips, 0);
  // The edge lies half a pixel over the first row of steel.
  for (const Point2& p : settled(drawn.scene, seen, {})) EXPECT_NEAR(p.y(), kEdgeRow - 0.5, 1);
}

TEST(OutlineSight, TellsAShadedFootFromARimThatMirrorsTheField) {
  cv::Mat foot = field_above_steel({150, 150, 150});
  cv::Mat rim = foot.clone();
  for (int y = kEdgeRow - 10; y < kEdgeRow; ++y) {
    foot.row(y).setTo(cv::Scalar(kField) * (1 - 0.035 * (y - kEdgeRow + 11)));
    if (y >= kEdgeRow - 6) rim.row(y).setTo(cv::Scalar(kField) * 0.7);
  }
  // In grain a third of them still look like a rim's; a stretch of the outline is settled by the most.
  const auto feet = Drawn(foot).look();
  const auto taken = std::count_if(feet.begin(), feet.end(), [](const auto& s) { return s.drop && !s.soft_drop; });
  EXPECT_LT(2 * taken, std::ssize(feet));
  const auto seen = Drawn(rim).look();
  ASSERT_GE(seen.size(), 30U);
  for (const OutlineSighting& s : seen) {
    ASSERT_TRUE(s.drop);
    EXPECT_FALSE(s.soft_drop);
    EXPECT_NEAR(s.drop->y(), kEdgeRow - 6.5, 1);
  }
}

// Along its slanting edge a top that mirrors the field is seen over less and less of its width.
TEST(OutlineSight, FollowsATopsFarRimWhereItNarrows) {
  constexpr double kWholeTop = 30;
  for (const int width : {5, 10, 12, 20}) {
    cv::Mat top = field_above_steel({150, 150, 150});
    for (int y = kEdgeRow - width; y < kEdgeRow; ++y) top.row(y).setTo(cv::Scalar(kField) * 0.6);
    const Drawn drawn(top);
    int far = 0;
    for (int x = 20; x < 100; x += 2) {
      const auto s = sight(drawn.scene, Point2(x, kEdgeRow), {0, 1}, 3, kWholeTop);
      far += s && s->drop && std::abs(s->drop->y() - (kEdgeRow - width - 0.5)) < 1 ? 1 : 0;
    }
    EXPECT_GE(far, 36) << width;
  }
}

}  // namespace
}  // namespace glintline
