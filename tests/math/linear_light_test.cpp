#include "math/linear_light.h"

#include <gtest/gtest.h>

#include <cmath>

namespace glintline {
namespace {

constexpr double kTable = 1e-6;     // the table holds floats
constexpr double kRoundTrip = 0.02; // codes: straight lines between whole codes, at the dark end's bend

/// IEC 61966-2-1:1999, 5.2, its equations for non-linear values above and below 0.04045.
double iec_linear(double code) {
  const double v = code / 255;
  return v > 0.04045 ? std::pow((v + 0.055) / 1.055, 2.4) : v / 12.92;
}

TEST(LinearLight, FollowsIec61966AtEveryCode) {
  for (int code = 0; code < 256; ++code) EXPECT_NEAR(linear_light()[code], iec_linear(code), kTable) << code;
}

TEST(LinearLight, GivesTheEndsAndTheUsualMiddle) {
  EXPECT_EQ(linear_light()[0], 0);
  EXPECT_NEAR(linear_light()[255], 1, kTable);
  EXPECT_NEAR(linear_light()[188], 0.503, 0.001);  // half of the light is code 188, not 128 (from memory)
}

TEST(LinearLight, ReadsCodesBetweenTheWholeOnes) {
  for (double code = 0; code <= 255; code += 0.37) {
    // A chord lies over the curve by an eighth of its second derivative: at most 5e-6 of full light.
    EXPECT_NEAR(linear_of(code), iec_linear(code), 6e-6) << code;
  }
}

TEST(LinearLight, ClipsWhatLiesOutside) {
  EXPECT_EQ(linear_of(-3), 0);
  EXPECT_NEAR(linear_of(300), 1, kTable);
  EXPECT_EQ(srgb_code(-0.1), 0);
  EXPECT_NEAR(srgb_code(1.7), 255, 1e-9);
}

TEST(LinearLight, ComesBackFromLinearLight) {
  for (double code = 0; code <= 255; code += 0.37) EXPECT_NEAR(srgb_code(linear_of(code)), code, kRoundTrip) << code;
}

TEST(LinearLight, WeighsColoursToLuminance) {
  const LinearLight light;
  const std::uint8_t white[3] = {255, 255, 255}, green[3] = {0, 255, 0}, grey[3] = {118, 118, 118};
  EXPECT_NEAR(light(white), 1, 1e-6);
  EXPECT_NEAR(light(green), 0.7152, 1e-6);  // ITU-R BT.709
  EXPECT_NEAR(light(grey), linear_of(118), 1e-6);
}

}  // namespace
}  // namespace glintline
