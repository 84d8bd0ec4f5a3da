#include "read/decoded_picture.h"

#include <sys/mman.h>

#include <algorithm>

namespace glintline {

namespace {

std::string by(std::int64_t width, std::int64_t height) {
  return std::to_string(width) + " x " + std::to_string(height);
}

// Asks for the pages of `picture` in large ones. A fresh 12-megapixel picture takes 9000 page faults otherwise, a third
// of the time of decoding into it (tests/bench/bench_read.cpp), and every later pass misses the address cache more
// often. Only a hint: where the system does not heed it, nothing changes.
void hint_large_pages(const cv::Mat& picture) {
  constexpr std::uintptr_t kLargePage = std::uintptr_t{1} << 21;
  const auto start = (reinterpret_cast<std::uintptr_t>(picture.datastart) + kLargePage - 1) / kLargePage * kLargePage;
  const auto end = reinterpret_cast<std::uintptr_t>(picture.dataend) / kLargePage * kLargePage;
  if (end > start) ::madvise(reinterpret_cast<void*>(start), end - start, MADV_HUGEPAGE);
}

}  // namespace

std::optional<Error> too_large(std::int64_t width, std::int64_t height) {
  // Both formats keep a side under 2^31, so the product cannot overflow.
  if (width * height <= kMaxPixels) return std::nullopt;
  return Error{Fault::kTooLarge,
               "the picture has " + by(width, height) + " pixels, " + std::to_string(kMaxPixels / 1'000'000) +
                   " megapixels are accepted: set the camera to a smaller picture or crop it",
               ""};
}

std::optional<Error> too_small(cv::Size size) {
  const auto [short_side, long_side] = std::minmax(size.width, size.height);
  if (long_side >= kMinLongSide_px && short_side >= kMinShortSide_px) return std::nullopt;
  return Error{Fault::kTooSmall,
               "the picture has " + by(size.width, size.height) + " pixels, at least " +
                   by(kMinLongSide_px, kMinShortSide_px) + " are needed: use the camera's own full-size picture",
               ""};
}

std::optional<Error> too_coarse(int jpeg_quality) {
  if (jpeg_quality >= kLeastJpegQuality) return std::nullopt;
  return Error{Fault::kTooCoarse,
               "the picture is compressed until edges are gone (JPEG quality about " + std::to_string(jpeg_quality) +
                   "): use the camera's own file, not one that was shrunk to be sent",
               ""};
}

cv::Mat unwritten_picture(cv::Size size) {
  cv::Mat picture(size, CV_8UC3);
  hint_large_pages(picture);
  return picture;
}

Error damaged(const std::string& detail) {
  return {Fault::kDamagedPicture,
          "the picture is damaged (" + detail + "): copy the file again from the phone or camera", ""};
}

Error damaged(const std::string& detail, unsigned row, unsigned rows) {
  if (row == 0) return damaged(detail);
  return damaged(detail + " after row " + std::to_string(row) + " of " + std::to_string(rows));
}

}  // namespace glintline
