#include "read/png_picture.h"

#include <png.h>

#include <algorithm>
#include <csetjmp>
#include <cstring>
#include <vector>

#include "read/colour_profile.h"
#include "read/exif_block.h"
#include "read/upright_canvas.h"

namespace glintline {

namespace {

/// libpng's reader; the rules about setjmp are those of JpegStream. Warnings are not damage here: libpng stops by
/// itself at whatever touches the pixels (checksums included) and warns of notes beside the picture.
class PngStream {
 public:
  explicit PngStream(Bytes bytes) : left_(bytes) {
    png_ = png_create_read_struct(PNG_LIBPNG_VER_STRING, this, leave, [](png_structp, png_const_charp) {});
    if (png_ != nullptr) info_ = png_create_info_struct(png_);
  }
  ~PngStream() { png_destroy_read_struct(&png_, &info_, nullptr); }
  PngStream(const PngStream&) = delete;
  PngStream& operator=(const PngStream&) = delete;

  [[nodiscard]] bool usable() const { return info_ != nullptr; }

  [[nodiscard]] bool read_header() {
    if (setjmp(back_) != 0) return false;
    png_set_read_fn(png_, this, take);
    // Nothing over 2^31 is legal; the number of pixels is judged by the caller, before any row is allocated.
    png_set_user_limits(png_, PNG_UINT_31_MAX, PNG_UINT_31_MAX);
    png_read_info(png_, info_);
    return true;
  }

  [[nodiscard]] bool start() {
    if (setjmp(back_) != 0) return false;
    png_set_alpha_mode(png_, PNG_ALPHA_PNG, PNG_DEFAULT_sRGB);  // only tells the curve to arrive at
    png_set_expand(png_);
    png_set_scale_16(png_);
    png_set_gray_to_rgb(png_);
    png_color_16 white{};
    white.red = white.green = white.blue = white.gray = 255;
    png_set_background(png_, &white, PNG_BACKGROUND_GAMMA_SCREEN, 0, 1.0);
    png_set_bgr(png_);
    png_set_interlace_handling(png_);
    png_read_update_info(png_, info_);
    return true;
  }

  /// All rows at once, as interlaced pictures need it.
  [[nodiscard]] bool read_rows(std::uint8_t** rows) {
    if (setjmp(back_) != 0) return false;
    png_read_image(png_, rows);
    return true;
  }

  /// Chunks behind the pixels; EXIF may be there.
  [[nodiscard]] bool finish() {
    if (setjmp(back_) != 0) return false;
    png_read_end(png_, info_);
    return true;
  }

  [[nodiscard]] std::int64_t width() const { return png_get_image_width(png_, info_); }
  [[nodiscard]] std::int64_t height() const { return png_get_image_height(png_, info_); }
  [[nodiscard]] std::size_t row_bytes() const { return png_get_rowbytes(png_, info_); }

  [[nodiscard]] Bytes exif_block() const {
    png_bytep block = nullptr;
    png_uint_32 length = 0;
    if (png_get_eXIf_1(png_, info_, &length, &block) == 0) return {};
    return {block, length};
  }

  [[nodiscard]] Bytes icc() const {
    png_charp name = nullptr;
    png_bytep profile = nullptr;
    png_uint_32 length = 0;
    int compression = 0;
    if (png_get_iCCP(png_, info_, &name, &compression, &profile, &length) == 0) return {};
    return {profile, length};
  }

  [[nodiscard]] Error error() const {
    return damaged(std::string("PNG: ") + text_, png_get_current_row_number(png_), png_get_image_height(png_, info_));
  }

 private:
  [[noreturn]] static void leave(png_structp png, png_const_charp message) {
    auto& stream = *static_cast<PngStream*>(png_get_error_ptr(png));
    std::strncpy(stream.text_, message, sizeof stream.text_ - 1);
    std::longjmp(stream.back_, 1);
  }

  static void take(png_structp png, png_bytep to, std::size_t count) {
    auto& stream = *static_cast<PngStream*>(png_get_io_ptr(png));
    if (count > stream.left_.size()) png_error(png, "the file ends too early");
    std::memcpy(to, stream.left_.data(), count);
    stream.left_ = stream.left_.subspan(count);
  }

  Bytes left_;
  png_structp png_ = nullptr;
  png_infop info_ = nullptr;
  std::jmp_buf back_{};
  char text_[120] = "";
};

std::vector<std::uint8_t*> rows_of(cv::Mat& picture) {
  std::vector<std::uint8_t*> rows(static_cast<std::size_t>(picture.rows));
  for (int y = 0; y < picture.rows; ++y) rows[static_cast<std::size_t>(y)] = picture.ptr(y);
  return rows;
}

cv::Mat turned_upright(cv::Mat stored, int orientation) {
  if (orientation == 1) return stored;
  UprightCanvas canvas(stored.size(), orientation);
  for (int y = 0; !canvas.done(); canvas.settle()) {
    const auto rows = canvas.rows();
    for (int i = 0; i < rows.count; ++i, ++y) std::copy_n(stored.ptr(y), stored.cols * stored.elemSize(), rows.at[i]);
  }
  return canvas.take();
}

}  // namespace

Result<DecodedPicture> decode_png(Bytes bytes) {
  PngStream stream(bytes);
  if (!stream.usable())
    return Error{Fault::kTooLarge, "not enough memory to read the picture: close other programs", ""};
  if (!stream.read_header()) return stream.error();
  if (const auto refusal = too_large(stream.width(), stream.height())) return *refusal;

  DecodedPicture picture;
  picture.colour_profile = profile_unlike_srgb(stream.icc());
  cv::Mat stored = unwritten_picture({static_cast<int>(stream.width()), static_cast<int>(stream.height())});
  auto rows = rows_of(stored);
  if (!stream.start()) return stream.error();
  if (stream.row_bytes() != stored.cols * stored.elemSize()) return damaged("PNG: unexpected kind of pixels");
  if (!stream.read_rows(rows.data())) return stream.error();
  if (!stream.finish()) return stream.error();

  picture.exif = read_exif(stream.exif_block());
  picture.bgr = turned_upright(std::move(stored), picture.exif.orientation);
  return picture;
}

}  // namespace glintline
