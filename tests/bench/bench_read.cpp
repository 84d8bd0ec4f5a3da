// How long read_photo() takes against libjpeg-turbo alone decoding the same file to BGR, both from the file and into
// fresh memory, in turns so that both meet the same weather.
//
//   bench_read PHOTO.jpg...        a table of medians
//   bench_read --once PHOTO.jpg    reads it once with read_photo(), for /usr/bin/time -v
//   bench_read --plain PHOTO.jpg   the same with libjpeg-turbo alone

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <string>
#include <vector>

// jpeglib.h wants FILE and size_t declared before it
// clang-format off
#include <cstdio>
#include <jpeglib.h>
// clang-format on

#include "read/file_bytes.h"
#include "read/photo_file.h"

namespace {

constexpr int kRounds = 15;

struct Free {
  void operator()(unsigned char* pixels) const { std::free(pixels); }
};

/// libjpeg-turbo with its defaults: the yardstick. Exits on a broken file.
unsigned char plain_decode(const std::string& path) {
  const auto bytes = glintline::read_bytes(path);
  if (!bytes) std::exit(1);
  jpeg_decompress_struct info{};
  jpeg_error_mgr errors{};
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, bytes->data(), bytes->size());
  jpeg_read_header(&info, TRUE);
  info.out_color_space = JCS_EXT_BGR;
  jpeg_start_decompress(&info);
  const std::size_t step = std::size_t{3} * info.output_width;
  const std::unique_ptr<unsigned char, Free> pixels(
      static_cast<unsigned char*>(std::malloc(step * info.output_height)));
  while (info.output_scanline < info.output_height) {
    unsigned char* row = pixels.get() + step * info.output_scanline;
    jpeg_read_scanlines(&info, &row, 1);
  }
  const unsigned char some = pixels.get()[step];
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return some;
}

unsigned char whole_read(const std::string& path) {
  const auto photo = glintline::read_photo(path);
  if (!photo) {
    std::fprintf(stderr, "%s: %s\n", photo.error().where.c_str(), photo.error().what.c_str());
    std::exit(1);
  }
  return photo->bgr.ptr(1)[0];
}

unsigned char hash_alone(const std::string& path) {
  const auto bytes = glintline::read_bytes(path);
  return bytes ? static_cast<unsigned char>(glintline::sha256_hex(*bytes)[0]) : 0;
}

template <typename Work>
double milliseconds(const Work& work, const std::string& path) {
  const auto start = std::chrono::steady_clock::now();
  volatile unsigned char seen = work(path);  // so that the work cannot be left out
  (void)seen;
  return std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - start).count();
}

double median(std::vector<double> times) {
  std::nth_element(times.begin(), times.begin() + static_cast<std::ptrdiff_t>(times.size() / 2), times.end());
  return times[times.size() / 2];
}

void compare(const std::string& path) {
  std::vector<double> plain;
  std::vector<double> whole;
  std::vector<double> ratio;
  std::vector<double> hash;
  for (int round = 0; round < kRounds; ++round) {
    plain.push_back(milliseconds(plain_decode, path));
    whole.push_back(milliseconds(whole_read, path));
    hash.push_back(milliseconds(hash_alone, path));
    ratio.push_back(whole.back() / plain.back());
  }
  const auto photo = glintline::read_photo(path);
  std::printf("%d  %8.1f  %8.1f  %8.1f  %6.2f  %s\n", photo->exif.orientation, median(plain), median(whole),
              median(hash), median(ratio), path.c_str());
}

}  // namespace

int main(int argc, char** argv) {
  if (argc == 3 && std::strcmp(argv[1], "--once") == 0) return whole_read(argv[2]), 0;
  if (argc == 3 && std::strcmp(argv[1], "--plain") == 0) return plain_decode(argv[2]), 0;
  std::printf("o  plain ms   read ms   hash ms   ratio  photograph (o: EXIF orientation; ratio: read / plain)\n");
  for (int i = 1; i < argc; ++i) compare(argv[i]);
  return 0;
}
