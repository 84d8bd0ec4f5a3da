#include "locate/reduced.h"

#include <gtest/gtest.h>

namespace glintline {
namespace {

// On a ramp of one level a pixel each reduced pixel holds the place it stands for.
TEST(ReducedGreen, StandsForTheBlockCentreItNames) {
  cv::Mat ramp(24, 200, CV_8UC3);
  for (int y = 0; y < ramp.rows; ++y) {
    for (int x = 0; x < ramp.cols; ++x) ramp.at<cv::Vec3b>(y, x) = cv::Vec3b(255, static_cast<std::uint8_t>(x), 0);
  }
  for (int factor = 1; factor <= 7; ++factor) {
    const cv::Mat reduced = reduced_green(ramp, factor);
    ASSERT_EQ(reduced.cols, 200 / factor);
    ASSERT_EQ(reduced.rows, 24 / factor);
    for (int x = 0; x < reduced.cols; ++x) {
      EXPECT_NEAR(reduced.at<std::uint8_t>(0, x), x * factor + block_centre(factor), 0.5) << factor;  // rounding
    }
  }
}

}  // namespace
}  // namespace glintline
