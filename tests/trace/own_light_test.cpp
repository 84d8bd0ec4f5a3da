#include "trace/own_light.h"

#include <gtest/gtest.h>

#include <cmath>

#include "math/linear_light.h"
#include "trace/blurred_light.h"

namespace glintline {
namespace {

using testing::blurred_light;
using testing::kBareSteel;
using testing::kBlueField;
using testing::kSceneBlur;

constexpr double kFrom = -30;
constexpr double kPxPerSample = 0.8;

std::optional<double> begins(double steel_from, const std::function<cv::Vec3d(double)>& before) {
  return own_light_begins(blurred_light(kFrom, [&](double n) { return n < steel_from ? before(n) : kBareSteel; }),
                          kPxPerSample);
}

// A tint is no light: half of it is reached a little before half of the steel's light is.
constexpr double kEarly = 1.0;

TEST(OwnLight, BeginsAtAPlainEdge) {
  const auto at = begins(0, [](double) { return kBlueField; });
  ASSERT_TRUE(at);
  EXPECT_NEAR(*at, 0, kEarly);
}

// The field in a shadow, or mirrored by a rim, has the field's colour: the edge behind it stays where it is.
TEST(OwnLight, IsNoneOfAShadowsNorOfAMirrorsImage) {
  const double plain = begins(0, [](double) { return kBlueField; }).value();
  for (const double share : {0.5, 0.75, 1.3}) {
    const auto at = begins(0, [share](double n) { return n < -9 ? kBlueField : share * kBlueField; });
    ASSERT_TRUE(at) << share;
    EXPECT_NEAR(*at, plain, 0.6) << share;
  }
}

TEST(OwnLight, IsThatOfARimThatMirrorsTheFieldAsWell) {
  const auto at = begins(0, [](double n) { return n < -12 ? kBlueField : 0.7 * kBlueField + cv::Vec3d::all(0.06); });
  ASSERT_TRUE(at);
  EXPECT_NEAR(*at, -12, kEarly);
}

TEST(OwnLight, BeginsNowhereOnTheField) {
  EXPECT_FALSE(begins(1e9, [](double n) { return (n < -9 ? 1 : 0.4) * kBlueField; }));
  // Nor is it told where steel reaches as far out as is looked.
  EXPECT_FALSE(begins(kFrom, [](double) { return kBlueField; }));
}

// Steel from a slanted line on, before it a shadow that is not parallel to it.
TEST(OwnLight, IsFollowedAlongAnOutline) {
  FieldColour field;
  field.direction = cv::Vec3f(cv::normalize(kBlueField));
  field.level = static_cast<float>(cv::norm(kBlueField));
  CutterScene s;
  s.field = &field;
  s.blur = kSceneBlur;
  s.px_per_sample = kPxPerSample;
  s.picture = cv::Mat(200, 240, CV_8UC3);
  const auto steel_row = [](double x) { return 100 + 0.087 * x; };
  for (int y = 0; y < 200; ++y) {
    for (int x = 0; x < 240; ++x) {
      const bool shadow = y > 85 + 0.03 * x;
      const cv::Vec3d light = y < steel_row(x) ? (shadow ? 0.5 : 1) * kBlueField : kBareSteel;
      for (int c = 0; c < 3; ++c) s.picture.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<uchar>(srgb_code(light[c]));
    }
  }
  // The outline was followed along the shadow's rim.
  const OutlineColumns columns{10, 229, [](int x) { return std::optional(85 + 0.03 * x); }};
  const std::vector<Point2> places = own_light_begins(s, columns, 11, 50);
  ASSERT_EQ(places.size(), 11U);
  for (const Point2& p : places) EXPECT_NEAR(p.y(), steel_row(p.x()), 1.0);
}

}  // namespace
}  // namespace glintline
