#pragma once

#include <array>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "read/decoded_picture.h"

namespace glintline {

/// An upright picture being filled with the rows of the stored one, top to bottom. Where the orientation allows it the
/// decoder writes straight into the picture; a quarter turn goes through a strip of few rows that stays in the cache,
/// so no second picture ever exists.
///
/// Use: rows() gives the places of the next stored rows; fill them all; settle(); until done().
class UprightCanvas {
 public:
  static constexpr int kStripRows = 32;

  /// `stored`: size of the stored picture; `orientation`: EXIF 2.32, tag 0112, 1 to 8. Throws cv::Exception when the
  /// memory is not to be had.
  UprightCanvas(cv::Size stored, int orientation);

  struct Rows {
    std::array<std::uint8_t*, kStripRows> at{};  ///< 3 bytes a pixel, blue first
    int count = 0;
  };

  [[nodiscard]] bool done() const { return next_row_ == stored_.height; }
  [[nodiscard]] Rows rows();
  void settle();

  /// The picture, once done.
  [[nodiscard]] cv::Mat take() { return std::move(upright_); }

 private:
  [[nodiscard]] int strip_count() const { return std::min(kStripRows, stored_.height - next_row_); }
  void turn_strip(int count);

  cv::Size stored_;
  bool turned_;          ///< a quarter turn: stored rows become upright columns
  bool rows_reversed_;   ///< stored rows fill the upright picture from its far end
  bool along_reversed_;  ///< the pixels of a stored row run backwards
  int next_row_ = 0;
  cv::Mat upright_;
  std::size_t strip_step_ = 0;
  std::vector<std::uint8_t> strip_;
};

}  // namespace glintline
