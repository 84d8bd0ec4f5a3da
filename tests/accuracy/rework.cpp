#include "accuracy/rework.h"

#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"
#include "read/photo_file.h"

namespace glintline::testing {

namespace {

/// Each code by itself, blue, green and red by a table of its own.
template <typename Curve>
void map_codes(cv::Mat& bgr, Curve curve) {
  cv::Mat table(1, 256, CV_8UC3);
  for (int code = 0; code < 256; ++code) {
    for (int c = 0; c < 3; ++c) table.at<cv::Vec3b>(0, code)[c] = cv::saturate_cast<uchar>(curve(code, c));
  }
  cv::LUT(bgr, table, bgr);
}

void brighten(cv::Mat& bgr, const std::array<double, 3>& gain) {
  map_codes(bgr, [&](int code, int c) { return srgb_code(gain[c] * linear_of(code)); });
}

void bend_tones(cv::Mat& bgr) {
  constexpr double kStrength = 0.057;
  map_codes(bgr, [](int code, int) {
    const double x = code / 255.0;
    return 255 * (x - kStrength * std::sin(2 * std::numbers::pi * x));
  });
}

void sharpen(cv::Mat& bgr) {
  constexpr double kAmount = 0.8;
  cv::Mat soft;
  cv::GaussianBlur(bgr, soft, {}, 1.6);
  cv::addWeighted(bgr, 1 + kAmount, soft, -kAmount, 0, bgr);
}

void add_grain(cv::Mat& bgr) {
  cv::Mat grain(bgr.size(), CV_16SC3);
  cv::RNG random(7);
  random.fill(grain, cv::RNG::NORMAL, 0, 5);
  cv::add(bgr, grain, bgr, cv::noArray(), CV_8U);
}

}  // namespace

Result<Photo> read_reworked(const std::filesystem::path& path, const Rework& rework) {
  Result<Photo> read = read_photo(path);
  if (!read.ok() || !rework) return read;
  Photo photo = std::move(read).value();
  rework(photo.bgr);
  return photo;
}

std::span<const NamedRework> reworks() {
  static const std::array<NamedRework, 6> all{{
      {"warm",
       [](cv::Mat& bgr) {
         brighten(bgr, {0.72, 0.95, 1.2});
       }},
      {"dark",
       [](cv::Mat& bgr) {
         brighten(bgr, {0.35, 0.35, 0.35});
       }},
      {"tones", bend_tones},
      {"sharp", sharpen},
      {"grain", add_grain},
      {"soft", [](cv::Mat& bgr) { cv::GaussianBlur(bgr, bgr, {}, 0.8); }},
  }};
  return all;
}

}  // namespace glintline::testing
