#include "trace/faint_rim.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"
#include "trace/blurred_light.h"

namespace glintline {
namespace {

using testing::blurred_light;
using testing::kBareSteel;
using testing::kBlueField;
using testing::kSceneBlur;

constexpr double kSmear = 5;
const cv::Vec3d kRim = 0.7 * kBlueField + cv::Vec3d(0.02, 0.02, 0.02);

TEST(StepAhead, IsARimThatMirrorsTheField) {
  for (const double at : {-8.0, -12.0, -18.0}) {
    const auto step =
        step_ahead(blurred_light(-30, [&](double n) { return n < at  ? kBlueField
                                                             : n < 0 ? kRim
                                                                     : kBareSteel; }),
                   kSceneBlur, kSmear);
    ASSERT_TRUE(step) << at;
    EXPECT_NEAR(step->at, at, 0.5);
    EXPECT_NEAR(step->share, -0.26, 0.05);
    EXPECT_TRUE(step->steel);
  }
}

TEST(StepAhead, IsARimBrighterThanTheShadeBeforeIt) {
  const auto step = step_ahead(
      blurred_light(-30, [](double n) { return n < -9  ? 0.4 * kBlueField
                                               : n < 0 ? 0.6 * kBlueField
                                                       : kBareSteel; }),
      kSceneBlur, kSmear);
  ASSERT_TRUE(step);
  EXPECT_NEAR(step->at, -9, 0.5);
  EXPECT_TRUE(step->steel);
}

TEST(StepAhead, IsNoSteelWhereAShadowBegins) {
  const auto step = step_ahead(
      blurred_light(-30, [](double n) { return n < -9  ? kBlueField
                                               : n < 0 ? 0.5 * kBlueField
                                                       : kBareSteel; }),
      kSceneBlur, kSmear);
  ASSERT_TRUE(step);
  EXPECT_FALSE(step->steel);
}

TEST(StepAhead, IsNotSeenInAPenumbraNorBeforeAPlainEdge) {
  EXPECT_FALSE(
      step_ahead(blurred_light(-30, [](double n) { return n < 0 ? kBlueField : kBareSteel; }), kSceneBlur, kSmear));
  const auto shaded = [](double n) {
    return n < -16 ? kBlueField : n < 0 ? (1 - 0.4 * (n + 16) / 16) * kBlueField : kBareSteel;
  };
  EXPECT_FALSE(step_ahead(blurred_light(-40, shaded), kSceneBlur, kSmear));
}

/// A top whose bare steel begins at row 100 of column 0 and falls by 5 degrees, with what lies ahead of it.
struct Top {
  FieldColour field;
  CutterScene scene;
  std::vector<Point2> bare;
};

double row_of(double x) { return 100 + 0.087 * x; }

/// `ahead(x, n)`: light at column x, n samples inwards of where bare steel begins.
void make_top(Top& top, const std::function<cv::Vec3d(double, double)>& ahead) {
  top.field.direction = cv::Vec3f(cv::normalize(kBlueField));
  top.field.level = static_cast<float>(cv::norm(kBlueField));
  top.scene.field = &top.field;
  top.scene.frame.mm_per_px = 0.03;
  top.scene.blur = kSceneBlur;
  top.scene.picture = cv::Mat(200, 240, CV_8UC3);
  for (int y = 0; y < 200; ++y) {
    for (int x = 0; x < 240; ++x) {
      const double n = y - row_of(x);
      // Steel's rough surface: grains of a tenth of its light, without which every single profile would do.
      const double grain = 1 + 0.1 * std::sin(12.9898 * x + 78.233 * y);
      const cv::Vec3d light = grain * (n < 0 ? ahead(x, n) : kBareSteel);
      for (int c = 0; c < 3; ++c)
        top.scene.picture.at<cv::Vec3b>(y, x)[c] = cv::saturate_cast<uchar>(srgb_code(light[c]));
    }
  }
  cv::GaussianBlur(top.scene.picture, top.scene.picture, {}, kSceneBlur);
  for (int x = 20; x <= 200; x += 2) top.bare.emplace_back(x, row_of(x));
}

TEST(FaintRim, IsFoundAheadOfTheBareSteel) {
  Top top;
  make_top(top, [](double, double n) { return n < -8 ? kBlueField : kRim; });
  const std::vector<Point2> rim = faint_rim(top.scene, top.bare, 20);
  ASSERT_GT(rim.size(), 40U);
  for (const Point2& p : rim) EXPECT_NEAR(p.y() - row_of(p.x()), -8, 0.75);
}

TEST(FaintRim, IsFoundWhereHalfOfTheTopShowsIt) {
  Top top;
  make_top(top, [](double x, double n) { return n < -8 || x > 150 ? kBlueField : kRim; });
  EXPECT_FALSE(faint_rim(top.scene, top.bare, 20).empty());
  Top less;
  make_top(less, [](double x, double n) { return n < -8 || x > 70 ? kBlueField : kRim; });
  EXPECT_TRUE(faint_rim(less.scene, less.bare, 20).empty());
}

TEST(FaintRim, IsNeitherAShadowNorWhatRunsAslant) {
  Top shadow;
  make_top(shadow, [](double, double n) { return (n < -8 ? 1 : 0.5) * kBlueField; });
  EXPECT_TRUE(faint_rim(shadow.scene, shadow.bare, 20).empty());
  Top aslant;
  make_top(aslant, [](double x, double n) { return n < -6 - 0.1 * (x - 20) ? kBlueField : kRim; });
  EXPECT_TRUE(faint_rim(aslant.scene, aslant.bare, 20).empty());
}

}  // namespace
}  // namespace glintline
