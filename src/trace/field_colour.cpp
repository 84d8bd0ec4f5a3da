#include "trace/field_colour.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "math/linear_light.h"

namespace glintline {

namespace {

/// Sine of the angle between a colour and the field's from which on it is not the field. Grey stands 35 to 55 degrees
/// from any saturated primary; noise and JPEG's coarse chroma move field pixels by up to about 10.
constexpr float kOffFieldSine = 0.33F;
/// Below this linear light the direction of a colour is noise (about code 8 of 255).
constexpr float kTooDark = 0.0025F;
/// A colour is strong where its saturation in linear light, 1 - min/max, is over this.
constexpr float kStrongSaturation = 0.6F;
constexpr int kBins = 24;

cv::Vec3f linear(const cv::Vec3b& bgr) {
  const auto& table = linear_light();
  return {table[bgr[0]], table[bgr[1]], table[bgr[2]]};
}

/// Bin of a colour's chromaticity, or -1 for a weak or dark one.
int chromaticity_bin(const cv::Vec3f& c) {
  const float sum = c[0] + c[1] + c[2];
  const float most = std::max({c[0], c[1], c[2]});
  const float least = std::min({c[0], c[1], c[2]});
  if (sum < 4 * kTooDark || least > (1 - kStrongSaturation) * most) return -1;
  const int b = std::min(kBins - 1, static_cast<int>(c[0] / sum * kBins));
  const int g = std::min(kBins - 1, static_cast<int>(c[1] / sum * kBins));
  return b * kBins + g;
}

int commonest_bin(const cv::Mat& bgr, int& count) {
  std::vector<int> histogram(kBins * kBins, 0);
  for (int y = 0; y < bgr.rows; ++y) {
    const auto* row = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < bgr.cols; ++x) {
      const int bin = chromaticity_bin(linear(row[x]));
      if (bin >= 0) ++histogram[bin];
    }
  }
  const auto top = std::max_element(histogram.begin(), histogram.end());
  count = *top;
  return static_cast<int>(top - histogram.begin());
}

}  // namespace

float FieldColour::along(const cv::Vec3b& bgr) const { return linear(bgr).dot(direction); }

float FieldColour::across(const cv::Vec3b& bgr) const {
  const cv::Vec3f c = linear(bgr);
  const float a = c.dot(direction);
  return std::sqrt(std::max(0.0F, c.dot(c) - a * a));
}

bool FieldColour::differs(const cv::Vec3b& bgr) const {
  const cv::Vec3f c = linear(bgr);
  const float length2 = c.dot(c);
  if (length2 < kTooDark * kTooDark) return true;
  const float a = c.dot(direction);
  return length2 - a * a > kOffFieldSine * kOffFieldSine * length2;
}

std::optional<FieldColour> learn_field_colour(const cv::Mat& bgr) {
  CV_Assert(bgr.type() == CV_8UC3);
  int count = 0;
  const int bin = commonest_bin(bgr, count);
  cv::Vec3d sum(0, 0, 0);
  std::vector<float> lengths;
  for (int y = 0; y < bgr.rows; ++y) {
    const auto* row = bgr.ptr<cv::Vec3b>(y);
    for (int x = 0; x < bgr.cols; ++x) {
      const cv::Vec3f c = linear(row[x]);
      const int b = chromaticity_bin(c);
      if (b < 0 || std::abs(b / kBins - bin / kBins) > 1 || std::abs(b % kBins - bin % kBins) > 1) continue;
      sum += c / std::sqrt(c.dot(c));
      lengths.push_back(std::sqrt(c.dot(c)));
    }
  }
  if (lengths.size() < 0.1 * bgr.rows * bgr.cols) return std::nullopt;
  std::nth_element(lengths.begin(), lengths.begin() + lengths.size() / 2, lengths.end());
  FieldColour colour;
  colour.direction = cv::Vec3f(sum / cv::norm(sum));
  colour.level = lengths[lengths.size() / 2];
  return colour;
}

}  // namespace glintline
