#include "locate/reduced.h"

#include <cstdint>
#include <vector>

namespace glintline {

cv::Mat reduced_green(const cv::Mat& bgr, int factor) {
  const int width = bgr.cols / factor;
  const int height = bgr.rows / factor;
  const int bytes = 3 * width * factor;
  // Reading the picture's memory is all the cost: half the rows halve it, and the blur of a lens fills the gap.
  const int stride = factor >= 4 ? 2 : 1;
  const int area = factor * ((factor + stride - 1) / stride);
  cv::Mat reduced(height, width, CV_8UC1);
  // All three channels are summed down the rows: a run over neighbouring bytes is vectorised, a stride is not.
  std::vector<std::uint16_t> sums(bytes);
  for (int y = 0; y < height; ++y) {
    const std::uint8_t* first = bgr.ptr<std::uint8_t>(y * factor);
    for (int i = 0; i < bytes; ++i) sums[i] = first[i];
    for (int k = stride; k < factor; k += stride) {
      const std::uint8_t* row = bgr.ptr<std::uint8_t>(y * factor + k);
      for (int i = 0; i < bytes; ++i) sums[i] = static_cast<std::uint16_t>(sums[i] + row[i]);
    }
    std::uint8_t* out = reduced.ptr<std::uint8_t>(y);
    for (int x = 0; x < width; ++x) {
      int sum = 0;
      for (int k = 0; k < factor; ++k) sum += sums[3 * (x * factor + k) + 1];
      out[x] = static_cast<std::uint8_t>((sum + area / 2) / area);
    }
  }
  return reduced;
}

}  // namespace glintline
