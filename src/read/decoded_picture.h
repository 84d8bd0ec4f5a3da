#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>

#include "base/result.h"
#include "model/photo.h"

namespace glintline {

/// What a decoder makes of a file's bytes.
struct DecodedPicture {
  cv::Mat bgr;  ///< CV_8UC3, upright
  Exif exif;
  cv::Size colour_step{1, 1};  ///< as in Photo
  int jpeg_quality = 100;      ///< as in Photo
  std::string colour_profile;  ///< as in Photo
};

/// 200 megapixels, which the largest phone sensors on sale just reach; 600 MB as BGR. Beyond it a few bytes of file may
/// ask for any amount of memory.
inline constexpr std::int64_t kMaxPixels = 200'000'000;

/// 640 x 480, either way up. The close card would then show 15 px a square: too few to read its markers.
inline constexpr int kMinLongSide_px = 640;
inline constexpr int kMinShortSide_px = 480;

/// JPEGs of less are refused: of the supplied and the demo photographs stored again, at 25 of 29 drops 27 and of 27
/// lengths 25 lay inside u95, at 15 22 of 27 and 24 of 27, off by up to 0.7 and 2 mm, and sharp edges read as dull.
inline constexpr int kLeastJpegQuality = 25;

/// The refusal of a JPEG of that quality, or nullopt.
[[nodiscard]] std::optional<Error> too_coarse(int jpeg_quality);

/// The refusal of a picture of `size`, or nullopt. too_large() is asked before anything of that size is allocated.
[[nodiscard]] std::optional<Error> too_large(std::int64_t width, std::int64_t height);
[[nodiscard]] std::optional<Error> too_small(cv::Size size);

/// A CV_8UC3 of `size` with undefined pixels. Throws cv::Exception when the memory is not to be had.
[[nodiscard]] cv::Mat unwritten_picture(cv::Size size);

/// "the picture is damaged (DETAIL): copy it again".
[[nodiscard]] Error damaged(const std::string& detail);

/// The same for a decoder that stopped at `row` (0 = before the first) of `rows`.
[[nodiscard]] Error damaged(const std::string& detail, unsigned row, unsigned rows);

}  // namespace glintline
