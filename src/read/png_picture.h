#pragma once

#include "base/result.h"
#include "read/decoded_picture.h"
#include "read/file_bytes.h"

namespace glintline {

/// A PNG, upright: any depth and colour type, interlaced or not, brought to 8-bit sRGB. 16 bits are rounded to 8, a
/// gAMA chunk unlike sRGB's curve is applied, transparency is laid over white. An eXIf chunk counts as EXIF does in a
/// JPEG; a picture turned by it takes a second copy while it is turned.
///
/// Fails with kDamagedPicture or kTooLarge (also when memory runs out). Size is checked against the upper limit only.
[[nodiscard]] Result<DecodedPicture> decode_png(Bytes bytes);

}  // namespace glintline
