#include "trace/block_means.h"

#include <algorithm>
#include <cstdint>
#include <opencv2/core.hpp>
#include <vector>

namespace glintline {

namespace {

constexpr int kChannels = 3;
constexpr int kMostFactor = 257;  // as many codes of 255 fit into 16 bits

/// Sums over the block's rows, then over its columns: the first pass, which reads the picture, is whole vectors wide.
void reduce_row(const cv::Mat& bgr, int factor, int row, std::vector<std::uint16_t>& sums, cv::Mat& reduced) {
  std::fill(sums.begin(), sums.end(), std::uint16_t{0});
  for (int j = 0; j < factor; ++j) {
    const std::uint8_t* in = bgr.ptr<std::uint8_t>(row * factor + j);
    for (std::size_t i = 0; i < sums.size(); ++i) sums[i] = static_cast<std::uint16_t>(sums[i] + in[i]);
  }
  const float share = 1.0F / static_cast<float>(factor * factor);
  const float upwards = factor == 2 ? 0.1F : 0;  // of halves: less than any other mean lies from one
  auto* out = reduced.ptr<cv::Vec3b>(row);
  for (int x = 0; x < reduced.cols; ++x) {
    const std::uint16_t* block = sums.data() + static_cast<std::ptrdiff_t>(kChannels) * x * factor;
    int blue = 0, green = 0, red = 0;
    for (int k = 0; k < factor; ++k, block += kChannels) {
      blue += block[0];
      green += block[1];
      red += block[2];
    }
    const auto mean = [&](int sum) { return static_cast<std::uint8_t>(cvRound(static_cast<float>(sum) * share + upwards)); };
    out[x] = {mean(blue), mean(green), mean(red)};
  }
}

}  // namespace

cv::Mat block_means(const cv::Mat& bgr, int factor) {
  CV_Assert(bgr.type() == CV_8UC3 && factor >= 1 && factor <= kMostFactor);
  if (factor == 1) return bgr;
  cv::Mat reduced(bgr.rows / factor, bgr.cols / factor, CV_8UC3);
  cv::parallel_for_(cv::Range(0, reduced.rows), [&](const cv::Range& rows) {
    std::vector<std::uint16_t> sums(static_cast<std::size_t>(kChannels) * reduced.cols * factor);
    for (int y = rows.start; y < rows.end; ++y) reduce_row(bgr, factor, y, sums, reduced);
  });
  return reduced;
}

}  // namespace glintline
