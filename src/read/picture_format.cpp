#include "read/picture_format.h"

#include <algorithm>
#include <string_view>

namespace glintline {

namespace {

using namespace std::string_view_literals;

bool has_at(Bytes bytes, std::size_t offset, std::string_view magic) {
  if (bytes.size() < offset + magic.size()) return false;
  return std::equal(magic.begin(), magic.end(), bytes.begin() + static_cast<std::ptrdiff_t>(offset),
                    [](char wanted, std::uint8_t found) { return static_cast<std::uint8_t>(wanted) == found; });
}

bool starts_with_any(Bytes bytes, std::initializer_list<std::string_view> magics) {
  return std::any_of(magics.begin(), magics.end(), [&](auto magic) { return has_at(bytes, 0, magic); });
}

// ISO/IEC 14496-12: a file type box with its major brand at 8 (HEIF: ISO/IEC 23008-12; AVIF: AOMedia's AV1 image
// format).
bool has_brand(Bytes bytes, std::initializer_list<std::string_view> brands) {
  return has_at(bytes, 4, "ftyp") &&
         std::any_of(brands.begin(), brands.end(), [&](auto brand) { return has_at(bytes, 8, brand); });
}

// "BM" alone is two letters of any text: the header's length, which tells the versions of the format apart, must fit.
bool is_bmp(Bytes bytes) {
  constexpr std::uint8_t kHeaderLengths[] = {12, 40, 52, 56, 64, 108, 124};
  return has_at(bytes, 0, "BM") && has_at(bytes, 15, "\0\0\0"sv) &&
         std::find(std::begin(kHeaderLengths), std::end(kHeaderLengths), bytes[14]) != std::end(kHeaderLengths);
}

}  // namespace

std::optional<PictureFormat> picture_format(Bytes bytes) {
  if (has_at(bytes, 0, "\xFF\xD8\xFF")) return PictureFormat::kJpeg;
  if (has_at(bytes, 0, "\x89PNG\r\n\x1A\n")) return PictureFormat::kPng;
  return std::nullopt;
}

std::string why_not_read(Bytes bytes) {
  if (bytes.empty()) return "the file is empty: copy it again from the phone or camera";
  if (has_brand(bytes, {"avif", "avis"})) return "this is an AVIF picture: convert it to JPEG or PNG";
  if (has_brand(bytes, {"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1"})) {
    return "this is a HEIC picture: set the phone to save JPEG ('most compatible') or convert it to JPEG";
  }
  if (starts_with_any(bytes, {"II*\0"sv, "MM\0*"sv}) || has_brand(bytes, {"crx "})) {
    return "this is a TIFF or raw camera picture: save it as JPEG or PNG in full size";
  }
  if (has_at(bytes, 4, "ftyp")) return "this is a video: take a still picture";
  if (has_at(bytes, 0, "RIFF") && has_at(bytes, 8, "WEBP")) {
    return "this is a WebP picture: use the camera's own JPEG or convert it to PNG";
  }
  if (starts_with_any(bytes, {"GIF87a", "GIF89a"})) return "this is a GIF picture: use the camera's own JPEG";
  if (starts_with_any(bytes, {"\xFF\x0A", "\0\0\0\x0CJXL \r\n\x87\n"sv})) {
    return "this is a JPEG XL picture: convert it to JPEG or PNG";
  }
  if (starts_with_any(bytes, {"\0\0\0\x0CjP  \r\n\x87\n"sv, "\xFF\x4F\xFF\x51"})) {
    return "this is a JPEG 2000 picture: convert it to JPEG or PNG";
  }
  if (has_at(bytes, 0, "%PDF-")) return "this is a PDF document: use the camera's own JPEG";
  if (is_bmp(bytes)) return "this is a BMP picture: save it as PNG";
  return "this is not a picture: JPEG and PNG are read";
}

}  // namespace glintline
