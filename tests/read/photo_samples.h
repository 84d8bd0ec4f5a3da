#pragma once

#include <cstdint>
#include <filesystem>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

namespace glintline::testing {

using FileBytes = std::vector<std::uint8_t>;

/// A file of tests/data/photos.
[[nodiscard]] std::filesystem::path sample(const std::string& name);

[[nodiscard]] FileBytes bytes_of(const std::filesystem::path& path);

/// Writes `bytes` into the running test's own folder, as `name`.
[[nodiscard]] std::filesystem::path written(const FileBytes& bytes, const std::string& name = "picture.jpg");

/// A smooth seeded colour picture with edges in it, CV_8UC3: no two rows, columns or corners alike.
[[nodiscard]] cv::Mat scene(cv::Size size, std::uint32_t seed = 1);

struct JpegOptions {
  bool progressive = false;
  bool grey = false;
  bool separate_scans = false;  ///< baseline, one scan a component
  bool arithmetic = false;
  int restart_rows = 0;
  int quality = 90;
  cv::Size colour_step = {2, 2};  ///< pixels between samples of colour
  FileBytes exif = {};  ///< TIFF structure
  FileBytes icc = {};
};

/// libjpeg's encoding.
[[nodiscard]] FileBytes jpeg(const cv::Mat& bgr, const JpegOptions& options = {});

/// libjpeg's own decoding to BGR with its defaults, as stored.
[[nodiscard]] cv::Mat plain_jpeg_decode(const FileBytes& bytes);

struct PngOptions {
  cv::Size size = {};
  int colour_type = 2;  ///< PNG_COLOR_TYPE_RGB
  int depth = 8;
  bool interlaced = false;
  std::vector<std::uint8_t> palette = {};  ///< RGB triples
  std::vector<std::uint8_t> palette_alpha = {};
  std::optional<double> gamma = std::nullopt;
  FileBytes exif = {};
  FileBytes icc = {};
};

/// libpng's encoding of `rows`: raw samples in PNG's own order (RGB, 16 bits big-endian, small depths packed). Without
/// rows only the header is written.
[[nodiscard]] FileBytes png(const PngOptions& options, const std::vector<FileBytes>& rows);

/// The same for an 8-bit BGR picture.
[[nodiscard]] FileBytes png(const cv::Mat& bgr, bool interlaced = false, const FileBytes& exif = {});

/// What exif_block() writes; absent entries are left out.
struct ExifEntries {
  std::optional<std::uint16_t> orientation = std::nullopt;
  std::optional<std::string> make = std::nullopt;
  std::optional<std::string> model = std::nullopt;
  std::optional<std::string> date = std::nullopt;
  std::optional<std::string> original_date = std::nullopt;
  std::optional<std::pair<std::uint32_t, std::uint32_t>> focal = std::nullopt;
  std::optional<std::uint16_t> focal_35mm = std::nullopt;
};

/// A TIFF structure after EXIF 2.32, 4.6: header, IFD0, Exif IFD; big-endian ("MM").
[[nodiscard]] FileBytes exif_block(const ExifEntries& entries);

}  // namespace glintline::testing
