#include "locate/reduced.h"

#include <cstdint>

namespace glintline {

namespace {

// Reading the picture's memory is most of the cost; the blur of a lens fills the gaps.
constexpr int step_of(int factor) { return factor >= 4 ? 2 : 1; }
constexpr int taken_of(int factor) { return (factor + step_of(factor) - 1) / step_of(factor); }

// With the factor known the inner loops are unrolled: a third of the time.
template <int kFactor>
void reduce_row(const cv::Mat& bgr, int factor, int row, cv::Mat& reduced) {
  const int side = kFactor > 0 ? kFactor : factor;
  const int step = step_of(side);
  const int area = taken_of(side) * taken_of(side);
  std::uint8_t* out = reduced.ptr<std::uint8_t>(row);
  for (int x = 0; x < reduced.cols; ++x) {
    int sum = area / 2;
    for (int j = 0; j < side; j += step) {
      const std::uint8_t* in = bgr.ptr<std::uint8_t>(row * side + j) + 3 * x * side + 1;
      for (int i = 0; i < side; i += step) sum += in[3 * i];
    }
    out[x] = static_cast<std::uint8_t>(sum / area);
  }
}

}  // namespace

cv::Mat reduced_green(const cv::Mat& bgr, int factor) {
  cv::Mat reduced(bgr.rows / factor, bgr.cols / factor, CV_8UC1);
  for (int y = 0; y < reduced.rows; ++y) {
    switch (factor) {
      case 1:
        reduce_row<1>(bgr, factor, y, reduced);
        break;
      case 2:
        reduce_row<2>(bgr, factor, y, reduced);
        break;
      case 3:
        reduce_row<3>(bgr, factor, y, reduced);
        break;
      case 4:
        reduce_row<4>(bgr, factor, y, reduced);
        break;
      default:
        reduce_row<0>(bgr, factor, y, reduced);
        break;
    }
  }
  return reduced;
}

double block_centre(int factor) { return (taken_of(factor) - 1) * step_of(factor) / 2.0; }

}  // namespace glintline
