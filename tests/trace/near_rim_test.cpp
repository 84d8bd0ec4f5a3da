#include "trace/near_rim.h"

#include <gtest/gtest.h>

#include <functional>
#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"
#include "trace/blurred_light.h"

namespace glintline {
namespace {

using testing::blurred_light;
using testing::kBareSteel;
using testing::kBlueField;
using testing::kSceneBlur;

RimLight seen(const std::function<cv::Vec3d(double)>& at) { return blurred_light(-16, at); }

TEST(NearRim, TellTheNearRimOfATopThatMirrorsTheField) {
  for (const double width : {2.0, 3.0, 5.0}) {
    const RimLight light = seen([&](double n) {
      return n < -width ? kBlueField : n < 0 ? 0.5 * kBlueField : kBareSteel;
    });
    EXPECT_GT(chance_of_near_rim(light, {width, 1}, {kSceneBlur, 0}), 0.8) << width;
  }
}

TEST(NearRim, TellTheFarRimOfATopThatHasLightOfItsOwn) {
  const double width = 5;
  const RimLight light = seen([&](double n) { return n < 0 ? kBlueField : n < width ? 0.3 * kBareSteel : kBareSteel; });
  EXPECT_LT(chance_of_near_rim(light, {width, 1}, {kSceneBlur, 0}), 0.2);
}

// A plate's top is seen over many blurs: whether bare steel begins at its far rim shows where the side below it does.
TEST(NearRim, TellAWideTopsFarRimByTheNearOneBehindIt) {
  constexpr double kWidth = 12;
  constexpr double kUWidth = 2.5;
  constexpr double kReach = 26;
  const auto chance = [&](const std::function<cv::Vec3d(double)>& at) {
    return chance_of_near_rim(blurred_light(-kReach, at, kReach), {kWidth, kUWidth}, {kSceneBlur, 0});
  };
  for (const double width : {9.0, 12.0, 14.0}) {
    EXPECT_LT(chance([&](double n) { return n < 0       ? kBlueField
                                            : n < width ? 0.6 * kBareSteel
                                                        : kBareSteel; }), 0.2)
        << width;
    EXPECT_GT(chance([&](double n) { return n < -width ? kBlueField
                                            : n < 0    ? 0.7 * kBlueField
                                                       : kBareSteel; }), 0.8)
        << width;
  }
}

TEST(NearRim, LeaveOpenWhichRimItIsWhereTheTopIsAsNarrowAsNothing) {
  const RimLight light = seen([&](double n) { return n < 0 ? kBlueField : kBareSteel; });
  const double chance = chance_of_near_rim(light, {0.3, 0.3}, {kSceneBlur, 0});
  EXPECT_GT(chance, 0.5);
  EXPECT_LT(chance, 0.9);
}

/// A gauge with a round crest at row 100 of column 150, over a green field; its top, `top_px` high, half as bright as
/// it.
CutterScene round_gauge(double top_px, FieldColour& field) {
  CutterScene s;
  const cv::Vec3d green(0.02, 0.25, 0.03);
  field.direction = cv::Vec3f(cv::normalize(green));
  field.level = static_cast<float>(cv::norm(green));
  s.field = &field;
  s.frame.mm_per_px = 0.03;
  s.picture = cv::Mat(300, 300, CV_8UC3);
  for (int y = 0; y < 300; ++y) {
    for (int x = 0; x < 300; ++x) {
      const double under = y - (100 + 0.004 * (x - 150) * (x - 150));
      const cv::Vec3d light = under < -top_px ? green : under < 0 ? 0.5 * green : kBareSteel;
      for (int c = 0; c < 3; ++c) s.picture.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<uchar>(srgb_code(light[c]));
    }
  }
  return s;
}

TEST(NearRim, LayTheCrestsProfilesOverEachOther) {
  FieldColour field;
  const CutterScene s = round_gauge(6, field);
  std::vector<Point2> bare;
  for (int x = 110; x <= 190; x += 2) bare.emplace_back(x, 100 + 0.004 * (x - 150) * (x - 150));
  const auto light = crest_light(s, bare, -12, 6);
  ASSERT_TRUE(light);
  const auto at = [&](double n) { return static_cast<std::size_t>((n - light->first) / RimLight::kStep); };
  EXPECT_NEAR(light->field[at(-10)], 0.25, 0.01);
  EXPECT_NEAR(light->field[at(-3)], 0.125, 0.01);
  EXPECT_NEAR(light->grey[at(3)], 0.4, 0.01);
}

TEST(NearRim, SayNothingOfACrestAtThePicturesBorder) {
  FieldColour field;
  const CutterScene s = round_gauge(6, field);
  std::vector<Point2> bare;
  for (int x = 110; x <= 190; x += 2) bare.emplace_back(x, 8);
  EXPECT_FALSE(crest_light(s, bare, -12, 6));
}

}  // namespace
}  // namespace glintline
