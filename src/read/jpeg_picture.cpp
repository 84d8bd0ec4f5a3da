#include "read/jpeg_picture.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <csetjmp>
#include <cstdlib>
#include <cstring>
#include <memory>
#include <string>

// jpeglib.h wants FILE and size_t declared before it
// clang-format off
#include <cstdio>
#include <jpeglib.h>
#include <jerror.h>
// clang-format on

#include "read/colour_profile.h"
#include "read/exif_block.h"
#include "read/upright_canvas.h"

namespace glintline {

namespace {

constexpr int kExifMarker = JPEG_APP0 + 1;
constexpr int kIccMarker = JPEG_APP0 + 2;
constexpr unsigned kWholeMarker = 0xFFFF;
constexpr char kExifHeader[] = "Exif\0";  // with the literal's own NUL: "Exif" and two NULs, EXIF 2.32, 4.7.2

// Encoders write about ten scans into a progressive picture. A file of thousands takes hours: every scan visits every
// block of the picture, whatever little it holds.
constexpr int kMostScans = 100;

// Not one of libjpeg's codes, which start at 0.
constexpr int kTooManyScans = -1;

// Slips of header writers that say nothing of the picture's data: an unknown JFIF version, an incomplete colour
// profile, and scan parameters which a sequential picture does not use (panoramas of some phones).
bool harmless(int code) { return code == JWRN_JFIF_MAJOR || code == JWRN_BOGUS_ICC || code == JWRN_NOT_SEQUENTIAL; }

bool is_unusual_kind(int code) {
  constexpr int kCodes[] = {JERR_ARITH_NOTIMPL,   JERR_BAD_PRECISION,      JERR_CCIR601_NOTIMPL,
                            JERR_COMPONENT_COUNT, JERR_CONVERSION_NOTIMPL, JERR_FRACT_SAMPLE_NOTIMPL,
                            JERR_NOTIMPL,         JERR_NOT_COMPILED,       JERR_SOF_UNSUPPORTED};
  return std::find(std::begin(kCodes), std::end(kCodes), code) != std::end(kCodes);
}

/// libjpeg's decompressor. libjpeg reports failure by a call that must not return; it leaves by longjmp to the setjmp
/// of the method at work. Those methods therefore call nothing but C between the two, so that no destructor is skipped.
/// Each is false on failure; error() then says which. After a failure only error() and the destructor may follow.
class JpegStream {
 public:
  explicit JpegStream(Bytes bytes) : bytes_(bytes) {
    info_.err = jpeg_std_error(&manager_);
    manager_.error_exit = [](j_common_ptr info) { leave(info, info->err->msg_code); };
    manager_.emit_message = [](j_common_ptr info, int level) {
      if (level < 0 && !harmless(info->err->msg_code)) leave(info, info->err->msg_code);
    };
    manager_.output_message = [](j_common_ptr) {};
    progress_.progress_monitor = [](j_common_ptr info) {
      if (self(info).info_.input_scan_number > kMostScans) leave(info, kTooManyScans);
    };
    info_.client_data = this;
  }
  ~JpegStream() { jpeg_destroy_decompress(&info_); }
  JpegStream(const JpegStream&) = delete;
  JpegStream& operator=(const JpegStream&) = delete;

  [[nodiscard]] bool read_header() {
    if (setjmp(back_) != 0) return false;
    jpeg_create_decompress(&info_);
    info_.progress = &progress_;
    jpeg_mem_src(&info_, bytes_.data(), bytes_.size());
    jpeg_save_markers(&info_, kExifMarker, kWholeMarker);
    jpeg_save_markers(&info_, kIccMarker, kWholeMarker);
    jpeg_read_header(&info_, TRUE);
    return true;
  }

  [[nodiscard]] bool start() {
    if (setjmp(back_) != 0) return false;
    info_.out_color_space = JCS_EXT_BGR;
    info_.dct_method = JDCT_ISLOW;
    info_.do_fancy_upsampling = TRUE;
    info_.do_block_smoothing = FALSE;  // it would guess what an incomplete progressive picture lacks
    jpeg_start_decompress(&info_);
    return true;
  }

  [[nodiscard]] bool read_rows(const UprightCanvas::Rows& rows) {
    if (setjmp(back_) != 0) return false;
    const JDIMENSION end = info_.output_scanline + static_cast<JDIMENSION>(rows.count);
    while (info_.output_scanline < end) {
      const JDIMENSION left = end - info_.output_scanline;
      jpeg_read_scanlines(&info_, const_cast<JSAMPARRAY>(rows.at.data()) + (rows.count - left), left);
    }
    return true;
  }

  /// Reads to the end marker: a file that lacks it is not whole.
  [[nodiscard]] bool finish() {
    if (setjmp(back_) != 0) return false;
    jpeg_finish_decompress(&info_);
    return true;
  }

  [[nodiscard]] cv::Size size() const {
    return {static_cast<int>(info_.image_width), static_cast<int>(info_.image_height)};
  }

  /// Pixels between samples of colour, across and down, as the picture is stored.
  [[nodiscard]] cv::Size colour_step() const {
    if (info_.num_components < 3) return {1, 1};
    const jpeg_component_info& colour = info_.comp_info[1];
    return {info_.max_h_samp_factor / colour.h_samp_factor, info_.max_v_samp_factor / colour.v_samp_factor};
  }

  /// By how the steps of brightness compare with the table that libjpeg scales (ITU-T T.81, annex K.1), for the coarser
  /// half of details only: the others reach a byte's end first. Cameras' own tables have other shapes: the middle one
  /// of the ratios stands for them.
  [[nodiscard]] int quality() const {
    constexpr std::array kPlaces = {0, 1, 2, 3, 4, 8, 9, 10, 11, 16, 17, 18, 19, 24, 25, 26, 32, 33, 40};
    constexpr std::array kSteps = {16, 11, 10, 16, 24, 12, 12, 14, 19, 14, 13, 16, 24, 14, 17, 22, 18, 22, 24};
    static_assert(kPlaces.size() == kSteps.size());
    const int number = info_.comp_info[0].quant_tbl_no;  // as the file has it: libjpeg checks it later
    const JQUANT_TBL* table = number >= 0 && number < NUM_QUANT_TBLS ? info_.quant_tbl_ptrs[number] : nullptr;
    if (table == nullptr) return 100;
    std::array<double, kPlaces.size()> percent{};
    for (std::size_t k = 0; k < percent.size(); ++k) percent[k] = 100.0 * table->quantval[kPlaces[k]] / kSteps[k];
    const auto middle = percent.begin() + percent.size() / 2;
    std::nth_element(percent.begin(), middle, percent.end());
    const double scale = std::max(1.0, *middle);
    return static_cast<int>(std::lround(std::max(1.0, scale < 100 ? 100 - scale / 2 : 5000 / scale)));
  }

  [[nodiscard]] bool is_cmyk() const {
    return info_.jpeg_color_space == JCS_CMYK || info_.jpeg_color_space == JCS_YCCK;
  }

  /// The TIFF structure of the first EXIF marker; empty without one. Valid until start() fails or finish().
  [[nodiscard]] Bytes exif_block() const {
    constexpr std::size_t kHeader = sizeof kExifHeader;
    for (auto marker = info_.marker_list; marker != nullptr; marker = marker->next) {
      if (marker->marker != kExifMarker || marker->data_length < kHeader) continue;
      if (std::memcmp(marker->data, kExifHeader, kHeader) != 0) continue;
      return {marker->data + kHeader, marker->data_length - kHeader};
    }
    return {};
  }

  /// Puts the embedded colour profile, joined from its markers, into `icc` for the caller to free(); null without one.
  [[nodiscard]] bool read_icc(JOCTET** icc, unsigned* length) {
    *icc = nullptr;
    *length = 0;
    if (setjmp(back_) != 0) return false;
    jpeg_read_icc_profile(&info_, icc, length);
    return true;
  }

  [[nodiscard]] Error error() const {
    if (failure_ == kTooManyScans) return damaged("more than " + std::to_string(kMostScans) + " scans");
    if (failure_ == JERR_OUT_OF_MEMORY) {
      return {Fault::kTooLarge, "the picture needs more memory than there is: set the camera to a smaller picture", ""};
    }
    if (is_unusual_kind(failure_)) {
      return {Fault::kNotAPicture,
              std::string("this kind of JPEG is not read (") + text_ + "): save it as an ordinary JPEG or as PNG", ""};
    }
    return damaged(text_, info_.output_scanline, info_.output_height);
  }

 private:
  static JpegStream& self(j_common_ptr info) { return *static_cast<JpegStream*>(info->client_data); }

  [[noreturn]] static void leave(j_common_ptr info, int failure) {
    JpegStream& stream = self(info);
    stream.failure_ = failure;
    if (failure >= 0) info->err->format_message(info, stream.text_);
    std::longjmp(stream.back_, 1);
  }

  Bytes bytes_;
  jpeg_decompress_struct info_{};
  jpeg_error_mgr manager_{};
  jpeg_progress_mgr progress_{};
  std::jmp_buf back_{};
  int failure_ = 0;
  char text_[JMSG_LENGTH_MAX] = "";
};

struct Free {
  void operator()(JOCTET* data) const { std::free(data); }
};

std::string colour_profile(JpegStream& stream) {
  JOCTET* data = nullptr;
  unsigned length = 0;
  const bool read = stream.read_icc(&data, &length);
  const std::unique_ptr<JOCTET, Free> owner(data);
  return read ? profile_unlike_srgb({data, length}) : "";
}

}  // namespace

Result<DecodedPicture> decode_jpeg(Bytes bytes) {
  JpegStream stream(bytes);
  if (!stream.read_header()) return stream.error();
  if (const auto refusal = too_large(stream.size().width, stream.size().height)) return *refusal;
  if (stream.is_cmyk()) {
    return Error{Fault::kNotAPicture,
                 "this is a CMYK picture, made for printing: use the camera's own picture or save it as RGB", ""};
  }

  DecodedPicture picture;
  picture.exif = read_exif(stream.exif_block());
  picture.colour_profile = colour_profile(stream);
  picture.colour_step = stream.colour_step();
  picture.jpeg_quality = stream.quality();
  if (picture.exif.orientation >= 5) std::swap(picture.colour_step.width, picture.colour_step.height);

  UprightCanvas canvas(stream.size(), picture.exif.orientation);
  if (!stream.start()) return stream.error();
  while (!canvas.done()) {
    if (!stream.read_rows(canvas.rows())) return stream.error();
    canvas.settle();
  }
  if (!stream.finish()) return stream.error();
  picture.bgr = canvas.take();
  return picture;
}

}  // namespace glintline
