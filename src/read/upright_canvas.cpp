#include "read/upright_canvas.h"

#include <algorithm>
#include <cstring>

namespace glintline {

namespace {

constexpr std::size_t kPixelBytes = 3;
constexpr std::size_t kCacheLine = 64;

// An odd number of cache lines: with a power of two of them all rows of a strip would share a few cache sets.
std::size_t strip_step(int width) {
  const std::size_t lines = (static_cast<std::size_t>(width) * kPixelBytes + kCacheLine - 1) / kCacheLine;
  return (lines | 1U) * kCacheLine;
}

void reverse_pixels(std::uint8_t* row, int width) {
  auto* pixels = reinterpret_cast<cv::Vec3b*>(row);
  std::reverse(pixels, pixels + width);
}

}  // namespace

UprightCanvas::UprightCanvas(cv::Size stored, int orientation)
    : stored_(stored),
      turned_(orientation >= 5),
      rows_reversed_(orientation == 3 || orientation == 4 || orientation == 6 || orientation == 7),
      along_reversed_(orientation == 2 || orientation == 3 || orientation == 7 || orientation == 8),
      upright_(unwritten_picture(turned_ ? cv::Size(stored.height, stored.width) : stored)) {
  if (!turned_) return;
  strip_step_ = strip_step(stored.width);
  strip_.resize(strip_step_ * kStripRows + 1);  // turn_strip() reads a byte past a pixel
}

UprightCanvas::Rows UprightCanvas::rows() {
  Rows rows;
  rows.count = strip_count();
  for (int i = 0; i < rows.count; ++i) {
    if (turned_) {
      // In the order of the upright columns, so that turning writes from left to right.
      rows.at[i] = strip_.data() + strip_step_ * static_cast<std::size_t>(rows_reversed_ ? rows.count - 1 - i : i);
    } else {
      rows.at[i] = upright_.ptr(rows_reversed_ ? stored_.height - 1 - next_row_ - i : next_row_ + i);
    }
  }
  return rows;
}

void UprightCanvas::settle() {
  const int count = strip_count();
  if (turned_) {
    turn_strip(count);
  } else if (along_reversed_) {
    const Rows filled = rows();
    for (int i = 0; i < count; ++i) reverse_pixels(filled.at[i], stored_.width);
  }
  next_row_ += count;
}

void UprightCanvas::turn_strip(int count) {
  const auto first_column = static_cast<std::size_t>(rows_reversed_ ? stored_.height - next_row_ - count : next_row_);
  for (int x = 0; x < stored_.width; ++x) {
    std::uint8_t* to = upright_.ptr(along_reversed_ ? stored_.width - 1 - x : x) + first_column * kPixelBytes;
    const std::uint8_t* from = strip_.data() + static_cast<std::size_t>(x) * kPixelBytes;
    // Four bytes are moved faster than three; the fourth is overwritten by the next pixel, so the last moves three.
    for (int i = 0; i < count - 1; ++i, from += strip_step_, to += kPixelBytes) std::memcpy(to, from, kPixelBytes + 1);
    std::memcpy(to, from, kPixelBytes);
  }
}

}  // namespace glintline
