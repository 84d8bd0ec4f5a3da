#pragma once

#include <filesystem>

#include "base/result.h"
#include "model/photo.h"

namespace glintline {

/// Reads the JPEG or PNG file at `path`, told by its content and never by its name, and turns it upright. Throws
/// nothing.
///
/// Pixels are taken as sRGB. A picture in another colour space is not converted, which would cost more than decoding
/// it: Photo::colour_profile then names the space. Display P3, which many phones write, has sRGB's tone curve, so
/// linearising is right and only hues look a little duller; opRGB's curve (IEC 61966-2-5) differs by a few levels in
/// the shadows.
///
/// Fails, `where` being the path and `what` one line, with
/// - kFileMissing: no such file, a folder, no permission, a read error
/// - kNotAPicture: empty, another format (named where it is known), CMYK
/// - kDamagedPicture: truncated or broken, however little: half a picture must not be measured. A broken EXIF block is
///   no damage; its entries are then absent. JPEG has no checksum: a few hundred wrong bytes within may go unnoticed
/// - kTooLarge: over kMaxPixels or kMaxFileBytes, or more than memory holds; refused before anything is allocated
/// - kTooSmall: whole, but under 640 x 480
/// - kTooCoarse: a JPEG of less than kLeastJpegQuality
///
/// Peak memory: the file's bytes and the picture; for a progressive JPEG also its coefficients (2 bytes a sample), for
/// a PNG with an EXIF orientation a second picture.
[[nodiscard]] Result<Photo> read_photo(const std::filesystem::path& path);

}  // namespace glintline
