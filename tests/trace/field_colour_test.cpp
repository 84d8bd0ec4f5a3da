#include "trace/field_colour.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <string>

namespace glintline {
namespace {

using Light = cv::Vec3d;  // linear B, G, R

Light light_of(const cv::Vec3b& bgr) {
  Light out;
  for (int c = 0; c < 3; ++c) {
    const double v = bgr[c] / 255.0;
    out[c] = v > 0.04045 ? std::pow((v + 0.055) / 1.055, 2.4) : v / 12.92;
  }
  return out;
}

cv::Vec3b code_of(const Light& light) {
  cv::Vec3b out;
  for (int c = 0; c < 3; ++c) {
    const double v = light[c];
    out[c] = cv::saturate_cast<uchar>(255 * (v > 0.0031308 ? 1.055 * std::pow(v, 1 / 2.4) - 0.055 : 12.92 * v));
  }
  return out;
}

const cv::Vec3b kBlue(190, 70, 20);
const cv::Vec3b kGreen(50, 150, 20);
const cv::Vec3b kRed(30, 25, 190);
const cv::Vec3b kOrange(5, 110, 230);
const cv::Vec3b kSteel(150, 150, 150);
const cv::Vec3b kDarkSteel(60, 62, 64);
const cv::Vec3b kRust(35, 65, 120);
constexpr double kShadow = 0.35;  // share of the light that a cast shadow leaves

const cv::Rect kSteelBox(40, 60, 150, 60);
const cv::Rect kDarkBox(190, 60, 60, 60);
const cv::Rect kRustBox(250, 60, 60, 60);
const cv::Rect kShadowBox(40, 120, 270, 30);

/// A field with a bar of steel, dark steel and rust on it that casts a shadow; grain of `noise` codes.
cv::Mat field_with_chain(const cv::Vec3b& field, double noise) {
  cv::Mat picture(220, 350, CV_8UC3, cv::Scalar(field[0], field[1], field[2]));
  picture(kSteelBox).setTo(cv::Scalar(kSteel[0], kSteel[1], kSteel[2]));
  picture(kDarkBox).setTo(cv::Scalar(kDarkSteel[0], kDarkSteel[1], kDarkSteel[2]));
  picture(kRustBox).setTo(cv::Scalar(kRust[0], kRust[1], kRust[2]));
  const cv::Vec3b shadow = code_of(kShadow * light_of(field));
  picture(kShadowBox).setTo(cv::Scalar(shadow[0], shadow[1], shadow[2]));
  cv::Mat grain(picture.size(), CV_16SC3);
  cv::RNG random(7);
  random.fill(grain, cv::RNG::NORMAL, 0, noise);
  cv::Mat noisy;
  cv::add(picture, grain, noisy, cv::noArray(), CV_8U);
  return noisy;
}

double share_differing(const FieldColour& colour, const cv::Mat& picture, const cv::Rect& box) {
  int off = 0;
  for (int y = box.y; y < box.br().y; ++y) {
    for (int x = box.x; x < box.br().x; ++x) off += colour.differs(picture.at<cv::Vec3b>(y, x)) ? 1 : 0;
  }
  return static_cast<double>(off) / box.area();
}

constexpr double kNoise = 3;       // codes; a phone's grain
constexpr double kFewPixels = 0.02; // grain takes single pixels over the line, no more

class StrongField : public ::testing::TestWithParam<cv::Vec3b> {};

TEST_P(StrongField, IsLearnedWithItsDirectionAndLevel) {
  const auto colour = learn_field_colour(field_with_chain(GetParam(), kNoise));
  ASSERT_TRUE(colour);
  const Light truth = light_of(GetParam());
  const double cosine = Light(colour->direction).dot(truth) / cv::norm(truth) / cv::norm(colour->direction);
  EXPECT_GT(cosine, std::cos(0.02));  // clipping of grain at code 0 and the shadow's rounding turn it by a degree
  EXPECT_NEAR(colour->level, cv::norm(truth), 0.05 * cv::norm(truth));
}

TEST_P(StrongField, StaysFieldInACastShadow) {
  const cv::Mat picture = field_with_chain(GetParam(), kNoise);
  const auto colour = learn_field_colour(picture);
  ASSERT_TRUE(colour);
  EXPECT_LT(share_differing(*colour, picture, kShadowBox), kFewPixels);
  EXPECT_LT(share_differing(*colour, picture, cv::Rect(0, 160, 350, 50)), kFewPixels);
}

TEST_P(StrongField, DiffersFromBrightAndDarkSteel) {
  const cv::Mat picture = field_with_chain(GetParam(), kNoise);
  const auto colour = learn_field_colour(picture);
  ASSERT_TRUE(colour);
  EXPECT_GT(share_differing(*colour, picture, kSteelBox), 1 - kFewPixels);
  EXPECT_GT(share_differing(*colour, picture, kDarkBox), 1 - kFewPixels);
}

TEST_P(StrongField, SplitsLightIntoTheFieldsAndTheRest) {
  const auto colour = learn_field_colour(field_with_chain(GetParam(), 0));
  ASSERT_TRUE(colour);
  const Light truth = light_of(GetParam());
  const cv::Vec3b shadow = code_of(kShadow * truth);
  EXPECT_NEAR(colour->along(shadow) / colour->along(GetParam()), kShadow, 0.02);  // rounding of the shadow's codes
  EXPECT_LT(colour->across(shadow), 0.02 * cv::norm(truth));
  const Light steel = light_of(kSteel);
  const double along = steel.dot(truth) / cv::norm(truth);
  EXPECT_NEAR(colour->across(kSteel), std::sqrt(steel.dot(steel) - along * along), 0.01);
}

INSTANTIATE_TEST_SUITE_P(FieldColour, StrongField, ::testing::Values(kBlue, kGreen, kRed, kOrange));

// Rust is warm: a warm field cannot tell it from itself by colour, a cold one does (why the card is blue).
TEST(FieldColour, TellsRustFromColdFields) {
  for (const cv::Vec3b& field : {kBlue, kGreen}) {
    const cv::Mat picture = field_with_chain(field, kNoise);
    const auto colour = learn_field_colour(picture);
    ASSERT_TRUE(colour);
    EXPECT_GT(share_differing(*colour, picture, kRustBox), 1 - kFewPixels);
  }
}

TEST(FieldColour, IsLearnedUnderAChainThatCoversMostOfIt) {
  cv::Mat picture = field_with_chain(kBlue, kNoise);
  picture(cv::Rect(0, 0, 350, 160)).setTo(cv::Scalar(140, 142, 145));  // 73 % of the picture
  const auto colour = learn_field_colour(picture);
  ASSERT_TRUE(colour);
  EXPECT_FALSE(colour->differs(kBlue));
  EXPECT_TRUE(colour->differs({140, 142, 145}));
}

TEST(FieldColour, IsNotLearnedFromGrey) {
  EXPECT_FALSE(learn_field_colour(field_with_chain({120, 120, 120}, kNoise)));
  EXPECT_FALSE(learn_field_colour(field_with_chain({250, 250, 250}, kNoise)));
  EXPECT_FALSE(learn_field_colour(cv::Mat::zeros(100, 100, CV_8UC3)));
}

TEST(FieldColour, IsNotLearnedFromATwentiethOfThePicture) {
  cv::Mat picture(200, 200, CV_8UC3, cv::Scalar(130, 130, 130));
  picture(cv::Rect(0, 0, 200, 10)).setTo(cv::Scalar(kBlue[0], kBlue[1], kBlue[2]));
  EXPECT_FALSE(learn_field_colour(picture));
}

TEST(FieldColour, CallsWhatIsTooDarkToTellNotField) {
  const auto colour = learn_field_colour(field_with_chain(kBlue, 0));
  ASSERT_TRUE(colour);
  EXPECT_TRUE(colour->differs({4, 1, 0}));
}

}  // namespace
}  // namespace glintline
