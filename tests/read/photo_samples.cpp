#include "read/photo_samples.h"

#include <gtest/gtest.h>
#include <png.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iterator>
#include <opencv2/core.hpp>
#include <random>

// jpeglib.h wants FILE and size_t declared before it
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on

namespace glintline::testing {

namespace fs = std::filesystem;

fs::path sample(const std::string& name) { return fs::path(GLINTLINE_SOURCE_DIR) / "tests" / "data" / "photos" / name; }

FileBytes bytes_of(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  EXPECT_TRUE(file) << path;
  return {std::istreambuf_iterator<char>(file), {}};
}

namespace {

/// This process's own folder, gone when it ends: tests of several builds run at once.
class TestFolder {
 public:
  TestFolder() : path_(fs::path(::testing::TempDir()) / ("glintline_read_" + std::to_string(::getpid()))) {}
  ~TestFolder() {
    std::error_code ignored;
    fs::remove_all(path_, ignored);
  }
  TestFolder(const TestFolder&) = delete;
  TestFolder& operator=(const TestFolder&) = delete;

  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

}  // namespace

fs::path written(const FileBytes& bytes, const std::string& name) {
  static const TestFolder of_all;
  const auto* test = ::testing::UnitTest::GetInstance()->current_test_info();
  const fs::path folder = of_all.path() / (std::string(test->test_suite_name()) + "." + test->name());
  fs::create_directories(folder);
  std::ofstream file(folder / name, std::ios::binary | std::ios::trunc);
  file.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  EXPECT_TRUE(file.flush());
  return folder / name;
}

cv::Mat scene(cv::Size size, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> phase(0, 6.28);
  const double a = phase(random);
  const double b = phase(random);
  cv::Mat bgr(size, CV_8UC3);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const double wave = std::sin(x / 37.0 + a) * std::cos(y / 23.0 + b);
      const int edge = 3 * x + 5 * y > 2 * size.width + size.height ? 60 : 0;
      bgr.at<cv::Vec3b>(y, x) = {static_cast<std::uint8_t>(100 + 50 * wave + edge),
                                 static_cast<std::uint8_t>(20 + 150 * x / size.width + edge),
                                 static_cast<std::uint8_t>(20 + 150 * y / size.height + edge)};
    }
  }
  return bgr;
}

namespace {

void set_scans_apart(jpeg_compress_struct& info) {
  static const jpeg_scan_info kScans[] = {
      {1, {0, 0, 0, 0}, 0, 63, 0, 0}, {1, {1, 0, 0, 0}, 0, 63, 0, 0}, {1, {2, 0, 0, 0}, 0, 63, 0, 0}};
  info.scan_info = kScans;
  info.num_scans = 3;
}

void write_exif(jpeg_compress_struct& info, const FileBytes& exif) {
  FileBytes marker = {'E', 'x', 'i', 'f', 0, 0};
  marker.insert(marker.end(), exif.begin(), exif.end());
  jpeg_write_marker(&info, JPEG_APP0 + 1, marker.data(), static_cast<unsigned>(marker.size()));
}

}  // namespace

FileBytes jpeg(const cv::Mat& bgr, const JpegOptions& options) {
  jpeg_compress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_compress(&info);
  unsigned char* out = nullptr;
  unsigned long length = 0;
  jpeg_mem_dest(&info, &out, &length);
  info.image_width = static_cast<JDIMENSION>(bgr.cols);
  info.image_height = static_cast<JDIMENSION>(bgr.rows);
  info.input_components = 3;
  info.in_color_space = JCS_EXT_BGR;
  jpeg_set_defaults(&info);
  info.comp_info[0].h_samp_factor = options.colour_step.width;
  info.comp_info[0].v_samp_factor = options.colour_step.height;
  if (options.grey) jpeg_set_colorspace(&info, JCS_GRAYSCALE);
  jpeg_set_quality(&info, options.quality, TRUE);
  if (options.progressive) jpeg_simple_progression(&info);
  if (options.separate_scans) set_scans_apart(info);
  info.arith_code = options.arithmetic ? TRUE : FALSE;
  info.restart_in_rows = options.restart_rows;
  jpeg_start_compress(&info, TRUE);
  if (!options.exif.empty()) write_exif(info, options.exif);
  if (!options.icc.empty()) {
    jpeg_write_icc_profile(&info, options.icc.data(), static_cast<unsigned>(options.icc.size()));
  }
  while (info.next_scanline < info.image_height) {
    auto* row = const_cast<JSAMPROW>(bgr.ptr(static_cast<int>(info.next_scanline)));
    jpeg_write_scanlines(&info, &row, 1);
  }
  jpeg_finish_compress(&info);
  FileBytes bytes(out, out + length);
  std::free(out);
  jpeg_destroy_compress(&info);
  return bytes;
}

cv::Mat plain_jpeg_decode(const FileBytes& bytes) {
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, bytes.data(), bytes.size());
  jpeg_read_header(&info, TRUE);
  info.out_color_space = JCS_EXT_BGR;
  jpeg_start_decompress(&info);
  cv::Mat bgr(static_cast<int>(info.output_height), static_cast<int>(info.output_width), CV_8UC3);
  while (info.output_scanline < info.output_height) {
    auto* row = bgr.ptr(static_cast<int>(info.output_scanline));
    jpeg_read_scanlines(&info, &row, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return bgr;
}

namespace {

void write_ancillary(png_structp png, png_infop info, const PngOptions& options) {
  if (!options.palette.empty()) {
    std::vector<png_color> colours;
    for (std::size_t i = 0; i + 2 < options.palette.size(); i += 3) {
      colours.push_back({options.palette[i], options.palette[i + 1], options.palette[i + 2]});
    }
    png_set_PLTE(png, info, colours.data(), static_cast<int>(colours.size()));
  }
  if (!options.palette_alpha.empty()) {
    png_set_tRNS(png, info, options.palette_alpha.data(), static_cast<int>(options.palette_alpha.size()), nullptr);
  }
  if (options.gamma) png_set_gAMA(png, info, *options.gamma);
  if (!options.icc.empty()) {
    png_set_iCCP(png, info, "profile", 0, options.icc.data(), static_cast<png_uint_32>(options.icc.size()));
  }
  if (!options.exif.empty()) {
    png_set_eXIf_1(png, info, static_cast<png_uint_32>(options.exif.size()),
                   const_cast<png_bytep>(options.exif.data()));
  }
}

}  // namespace

FileBytes png(const PngOptions& options, const std::vector<FileBytes>& rows) {
  FileBytes bytes;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  png_set_write_fn(
      png, &bytes,
      [](png_structp p, png_bytep data, std::size_t count) {
        auto& to = *static_cast<FileBytes*>(png_get_io_ptr(p));
        to.insert(to.end(), data, data + count);
      },
      nullptr);
  png_set_IHDR(png, info, static_cast<png_uint_32>(options.size.width), static_cast<png_uint_32>(options.size.height),
               options.depth, options.colour_type, options.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE,
               PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  write_ancillary(png, info, options);
  png_write_info(png, info);
  if (!rows.empty()) {
    std::vector<png_bytep> pointers;
    for (const auto& row : rows) pointers.push_back(const_cast<png_bytep>(row.data()));
    png_write_image(png, pointers.data());
    png_write_end(png, info);
  }
  png_destroy_write_struct(&png, &info);
  return bytes;
}

FileBytes png(const cv::Mat& bgr, bool interlaced, const FileBytes& exif) {
  std::vector<FileBytes> rows;
  for (int y = 0; y < bgr.rows; ++y) {
    FileBytes& row = rows.emplace_back();
    for (int x = 0; x < bgr.cols; ++x) {
      const auto pixel = bgr.at<cv::Vec3b>(y, x);
      row.insert(row.end(), {pixel[2], pixel[1], pixel[0]});
    }
  }
  PngOptions options;
  options.size = bgr.size();
  options.interlaced = interlaced;
  options.exif = exif;
  return png(options, rows);
}

namespace {

constexpr int kAscii = 2;
constexpr int kShort = 3;
constexpr int kLong = 4;
constexpr int kRational = 5;

void put(FileBytes& to, std::uint32_t value, int bytes) {
  for (int shift = 8 * (bytes - 1); shift >= 0; shift -= 8) to.push_back(static_cast<std::uint8_t>(value >> shift));
}

struct Entry {
  std::uint16_t tag;
  int type;
  std::uint32_t count;
  FileBytes value;
};

Entry short_entry(std::uint16_t tag, std::uint16_t value) {
  Entry entry{tag, kShort, 1, {}};
  put(entry.value, value, 2);
  return entry;
}

Entry text_entry(std::uint16_t tag, const std::string& text) {
  Entry entry{tag, kAscii, static_cast<std::uint32_t>(text.size() + 1), {text.begin(), text.end()}};
  entry.value.push_back(0);
  return entry;
}

/// A directory that starts at `offset` of the block, its longer values behind it.
FileBytes directory(const std::vector<Entry>& entries, std::size_t offset) {
  FileBytes table;
  FileBytes values;
  const std::size_t values_at = offset + 2 + 12 * entries.size() + 4;
  put(table, static_cast<std::uint32_t>(entries.size()), 2);
  for (const auto& entry : entries) {
    put(table, entry.tag, 2);
    put(table, static_cast<std::uint32_t>(entry.type), 2);
    put(table, entry.count, 4);
    if (entry.value.size() > 4) {
      put(table, static_cast<std::uint32_t>(values_at + values.size()), 4);
      values.insert(values.end(), entry.value.begin(), entry.value.end());
      if (values.size() % 2 == 1) values.push_back(0);
    } else {
      table.insert(table.end(), entry.value.begin(), entry.value.end());
      table.resize(table.size() + 4 - entry.value.size());
    }
  }
  put(table, 0, 4);
  table.insert(table.end(), values.begin(), values.end());
  return table;
}

}  // namespace

FileBytes exif_block(const ExifEntries& entries) {
  std::vector<Entry> photo;
  if (entries.original_date) photo.push_back(text_entry(0x9003, *entries.original_date));
  if (entries.focal) {
    Entry focal{0x920A, kRational, 1, {}};
    put(focal.value, entries.focal->first, 4);
    put(focal.value, entries.focal->second, 4);
    photo.push_back(focal);
  }
  if (entries.focal_35mm) photo.push_back(short_entry(0xA405, *entries.focal_35mm));

  std::vector<Entry> image;
  if (entries.make) image.push_back(text_entry(0x010F, *entries.make));
  if (entries.model) image.push_back(text_entry(0x0110, *entries.model));
  if (entries.orientation) image.push_back(short_entry(0x0112, *entries.orientation));
  if (entries.date) image.push_back(text_entry(0x0132, *entries.date));
  image.push_back({0x8769, kLong, 1, FileBytes(4)});

  constexpr std::size_t kHeader = 8;
  const std::size_t photo_at = kHeader + directory(image, kHeader).size();
  image.back().value.clear();
  put(image.back().value, static_cast<std::uint32_t>(photo_at), 4);

  FileBytes block = {'M', 'M', 0, 42, 0, 0, 0, kHeader};
  const auto first = directory(image, kHeader);
  block.insert(block.end(), first.begin(), first.end());
  const auto second = directory(photo, photo_at);
  block.insert(block.end(), second.begin(), second.end());
  return block;
}

}  // namespace glintline::testing
