#include "trace/bevel.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.02;
constexpr int kFrom = 60;      // first column of the plate
constexpr int kSteelTo = 300;  // bare steel ends here,
constexpr int kCorner = 400;   // the bevel that mirrors the field here
const cv::Vec3b kField(190, 70, 20);

/// A plate whose outline leaves its own line by `lower_px` before its bare steel ends, and a bevel that goes on so.
struct BeveledPlate {
  FieldColour field;
  CutterScene scene;
  Landmarks marks;
  std::vector<Point2> steel;  ///< outline of the bare steel

  explicit BeveledPlate(int lower_px) : field(*learn_field_colour(cv::Mat(40, 40, CV_8UC3, cv::Scalar(kField)))) {
    cv::Mat picture(260, 640, CV_8UC3, cv::Scalar(kField));
    const auto top = [&](int x) { return x < kSteelTo - 60 ? 100 : 100 + lower_px; };
    for (int x = kFrom; x < kCorner; ++x) {
      const cv::Scalar shown = x < kSteelTo ? cv::Scalar(150, 150, 150) : 0.6 * cv::Scalar(kField);
      picture.col(x).rowRange(top(x), 220).setTo(shown);
      if (x < kSteelTo && x % 2 == 0) steel.emplace_back(x, top(x) - 0.5);
    }
    cv::GaussianBlur(picture, scene.picture, {}, 0.8);
    scene.field = &field;
    scene.frame.mm_per_px = kMmPerPx;
    scene.pitch_px = 9.5 / kMmPerPx;
    scene.blur = 1.2;
    marks.plate_from = kFrom;
    marks.plate_to = kSteelTo;
    marks.gullet = 460;
    marks.gauge = 600;
    marks.plate_line = {Point2(180, 99.5), Point2(1, 0)};
  }
};

TEST(Bevel, IsFollowedFromWhereTheOutlineEnds) {
  for (const int lower : {0, 7}) {
    BeveledPlate plate(lower);
    std::vector<Point2> points = plate.steel;
    const int followed = follow_bevel(plate.scene, plate.marks, 0, points);
    EXPECT_NEAR(followed, kCorner, 8) << lower;
    ASSERT_GT(points.size(), plate.steel.size());
    for (std::size_t k = plate.steel.size(); k < points.size(); ++k) EXPECT_NEAR(points[k].y(), 99.5 + lower, 1.0);
  }
}

// A widely rounded rim mirrors the field ever darker: no place of it falls as fast as an edge.
TEST(Bevel, IsFollowedAlongARimThatIsRoundedWidely) {
  BeveledPlate plate(0);
  cv::Mat& picture = plate.scene.picture;
  for (int x = kSteelTo; x < kCorner; ++x) {
    for (int y = 60; y < 220; ++y) {
      const double fallen = 0.3 * (1 + std::tanh((y - 99.5) / 6.0));
      picture.at<cv::Vec3b>(y, x) = cv::Vec3b(cv::Vec3d(kField) * (1 - fallen));
    }
  }
  std::vector<Point2> points = plate.steel;
  EXPECT_NEAR(follow_bevel(plate.scene, plate.marks, 0, points), kCorner, 8);
  for (std::size_t k = plate.steel.size(); k < points.size(); ++k) EXPECT_NEAR(points[k].y(), 99.5, 2.5);
}

// The last millimetre of a bevel may catch the lamp: brighter than the field, but of another colour.
TEST(Bevel, IsFollowedAlongAPartThatFlashes) {
  BeveledPlate plate(0);
  plate.scene.picture.colRange(kCorner - 45, kCorner).rowRange(101, 220).setTo(cv::Scalar(240, 240, 240));
  cv::GaussianBlur(plate.scene.picture, plate.scene.picture, {}, 0.8);
  std::vector<Point2> points = plate.steel;
  EXPECT_NEAR(follow_bevel(plate.scene, plate.marks, 0, points), kCorner, 8);
}

// Beyond the corner a shadow's rim may lie on the plate's line, but it parts the field from hardly darker field.
TEST(Bevel, EndsWhereAFaintShadowsRimGoesOn) {
  BeveledPlate plate(0);
  cv::Mat& picture = plate.scene.picture;
  picture.colRange(kCorner, 560).rowRange(100, 220).setTo(0.93 * cv::Scalar(kField));
  cv::GaussianBlur(picture, picture, {}, 0.8);
  std::vector<Point2> points = plate.steel;
  EXPECT_NEAR(follow_bevel(plate.scene, plate.marks, 0, points), kCorner, 8);
}

TEST(Bevel, EndsWhereOnlyTheFieldGoesOn) {
  BeveledPlate plate(0);
  plate.scene.picture.colRange(kSteelTo, plate.scene.picture.cols).setTo(cv::Scalar(kField));
  std::vector<Point2> points = plate.steel;
  EXPECT_LE(follow_bevel(plate.scene, plate.marks, 0, points), kSteelTo + 4);
}

// A crumb of light wood lies in the cutter's own soft shadow, 1 mm ahead of the corner and as high as the plate's top.
TEST(Bevel, FrontIsNoCrumbAheadOfIt) {
  BeveledPlate plate(0);
  cv::Mat& picture = plate.scene.picture;
  for (int x = kCorner; x < picture.cols; ++x) {
    picture.col(x).setTo((0.94 + 0.06 * std::tanh((x - 480) / 12.0)) * cv::Scalar(kField));
  }
  picture.colRange(kSteelTo, kCorner).rowRange(100, 220).setTo(cv::Scalar(105, 60, 45));
  cv::rectangle(picture, {450, 95}, {468, 135}, cv::Scalar(30, 80, 110), cv::FILLED);
  cv::GaussianBlur(picture, picture, {}, 0.8);
  const auto front = bevel_front(plate.scene, plate.marks, plate.marks.plate_line, kCorner);
  ASSERT_GE(front.size(), 5U);
  for (const Point2& p : front) EXPECT_NEAR(p.x(), kCorner - 0.5, 1.5);
}

// The field's light falls at once where a part ends, and over millimetres in a shadow's penumbra.
TEST(Bevel, TellsAnEdgeFromAShadowByHowFastTheLightFalls) {
  BeveledPlate plate(0);
  const std::vector<Point2> front{{kCorner - 0.5, 130}, {kCorner - 0.5, 150}};
  EXPECT_GT(falls_at_once(plate.scene, front), 0.8);
  for (int x = 0; x < plate.scene.picture.cols; ++x) {
    const double shade = 0.3 * (1 - std::tanh((x - kCorner) * kMmPerPx / 1.0));
    plate.scene.picture.col(x).setTo((1 - shade) * cv::Scalar(kField));
  }
  EXPECT_LT(falls_at_once(plate.scene, front), 0.3);
}

}  // namespace
}  // namespace glintline
