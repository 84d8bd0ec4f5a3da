#include "trace/block_means.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>

namespace glintline {
namespace {

/// A picture of noise, its sides no multiples of any factor but 1.
cv::Mat noise(cv::Size size) {
  cv::Mat picture(size, CV_8UC3);
  cv::RNG random(7);
  random.fill(picture, cv::RNG::UNIFORM, 0, 256);
  return picture;
}

class BlockMeans : public ::testing::TestWithParam<int> {};

// The reference is OpenCV's own area interpolation.
TEST_P(BlockMeans, AreThoseOfOpenCv) {
  const int factor = GetParam();
  const cv::Mat picture = noise({631, 509});
  const cv::Size size(picture.cols / factor, picture.rows / factor);
  cv::Mat expected;
  cv::resize(picture(cv::Rect(0, 0, size.width * factor, size.height * factor)), expected, size, 0, 0, cv::INTER_AREA);
  const cv::Mat reduced = block_means(picture, factor);
  ASSERT_EQ(reduced.size(), size);
  EXPECT_EQ(cv::norm(reduced, expected, cv::NORM_INF), 0);
}

INSTANTIATE_TEST_SUITE_P(Factors, BlockMeans, ::testing::Values(1, 2, 3, 4, 5, 6, 7, 12, 18));

// The longest sums that there are: white.
TEST(BlockMeansOfWhite, AreWhite) {
  const cv::Mat white(600, 514, CV_8UC3, cv::Scalar::all(255));
  EXPECT_EQ(cv::norm(block_means(white, 257), cv::Mat(2, 2, CV_8UC3, cv::Scalar::all(255)), cv::NORM_INF), 0);
}

}  // namespace
}  // namespace glintline
