#include "read/photo_file.h"

#include <exception>
#include <new>
#include <opencv2/core.hpp>

#include "read/decoded_picture.h"
#include "read/file_bytes.h"
#include "read/jpeg_picture.h"
#include "read/picture_format.h"
#include "read/png_picture.h"

namespace glintline {

namespace {

Result<DecodedPicture> decode(Bytes bytes) {
  const auto format = picture_format(bytes);
  if (!format) return Error{Fault::kNotAPicture, why_not_read(bytes), ""};
  auto picture = *format == PictureFormat::kJpeg ? decode_jpeg(bytes) : decode_png(bytes);
  if (!picture) return picture;
  // Last, so that a damaged small picture is called damaged.
  if (const auto refusal = too_small(picture->bgr.size())) return *refusal;
  if (const auto refusal = too_coarse(picture->jpeg_quality)) return *refusal;
  return picture;
}

Result<Photo> photo_from(const std::filesystem::path& path) {
  const auto bytes = read_bytes(path);
  if (!bytes) return bytes.error();
  auto picture = decode(*bytes);
  if (!picture) return picture.error();
  DecodedPicture decoded = std::move(picture).value();
  return Photo{.path = path.string(),
               .sha256 = sha256_hex(*bytes),
               .bgr = std::move(decoded.bgr),
               .exif = std::move(decoded.exif),
               .colour_step = decoded.colour_step,
               .jpeg_quality = decoded.jpeg_quality,
               .colour_profile = std::move(decoded.colour_profile)};
}

Result<Photo> without_exceptions(const std::filesystem::path& path) {
  const Error no_memory{Fault::kTooLarge,
                        "the picture needs more memory than there is: set the camera to a smaller picture", ""};
  try {
    return photo_from(path);
  } catch (const std::bad_alloc&) {
    return no_memory;
  } catch (const cv::Exception& e) {
    if (e.code == cv::Error::StsNoMem) return no_memory;
    return Error{Fault::kDamagedPicture, "the picture cannot be decoded (" + e.err + "): copy the file again", ""};
  } catch (const std::exception& e) {
    return Error{Fault::kDamagedPicture, std::string("the picture cannot be decoded (") + e.what() + ")", ""};
  }
}

}  // namespace

Result<Photo> read_photo(const std::filesystem::path& path) {
  auto photo = without_exceptions(path);
  if (photo) return photo;
  Error error = photo.error();
  error.where = path.string();
  return error;
}

}  // namespace glintline
