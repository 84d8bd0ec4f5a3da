#include "trace/gauge_rims.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"

namespace glintline {
namespace {

const cv::Vec3d kField(0.5, 0.06, 0.01);  // blue, green, red; linear
const cv::Vec3d kSteel(0.4, 0.4, 0.4);
constexpr double kBlur = 1.25;

/// Light of a scene in which the light at `n`, samples inwards, is `at(n)`, averaged over a Gaussian by small steps.
RimLight seen(const std::function<cv::Vec3d(double)>& at) {
  RimLight light;
  light.first = -16;
  for (double n = light.first; n <= 6; n += RimLight::kStep) {
    cv::Vec3d sum(0, 0, 0);
    double weights = 0;
    for (double d = -5; d <= 5; d += 0.05) {
      const double weight = std::exp(-0.5 * d * d / (kBlur * kBlur));
      sum += weight * at(n + d);
      weights += weight;
    }
    sum /= weights;
    light.grey.push_back(0.0722 * sum[0] + 0.7152 * sum[1] + 0.2126 * sum[2]);
    light.field.push_back(sum[0]);
  }
  return light;
}

TEST(GaugeRims, TellTheNearRimOfATopThatMirrorsTheField) {
  for (const double width : {2.0, 3.0, 5.0}) {
    const RimLight light = seen([&](double n) { return n < -width ? kField : n < 0 ? 0.5 * kField : kSteel; });
    EXPECT_GT(chance_of_near_rim(light, {width, 1}, {kBlur, 0}), 0.8) << width;
  }
}

TEST(GaugeRims, TellTheFarRimOfATopThatHasLightOfItsOwn) {
  const double width = 5;
  const RimLight light = seen([&](double n) { return n < 0 ? kField : n < width ? 0.3 * kSteel : kSteel; });
  EXPECT_LT(chance_of_near_rim(light, {width, 1}, {kBlur, 0}), 0.2);
}

TEST(GaugeRims, LeaveOpenWhichRimItIsWhereTheTopIsAsNarrowAsNothing) {
  const RimLight light = seen([&](double n) { return n < 0 ? kField : kSteel; });
  const double chance = chance_of_near_rim(light, {0.3, 0.3}, {kBlur, 0});
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
      const cv::Vec3d light = under < -top_px ? green : under < 0 ? 0.5 * green : kSteel;
      for (int c = 0; c < 3; ++c) s.picture.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<uchar>(srgb_code(light[c]));
    }
  }
  return s;
}

TEST(GaugeRims, LayTheCrestsProfilesOverEachOther) {
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

TEST(GaugeRims, SayNothingOfACrestAtThePicturesBorder) {
  FieldColour field;
  const CutterScene s = round_gauge(6, field);
  std::vector<Point2> bare;
  for (int x = 110; x <= 190; x += 2) bare.emplace_back(x, 8);
  EXPECT_FALSE(crest_light(s, bare, -12, 6));
}

}  // namespace
}  // namespace glintline
