#pragma once

#include "base/result.h"
#include "read/decoded_picture.h"
#include "read/file_bytes.h"

namespace glintline {

/// A JPEG, upright, with the accurate integer transform and smooth ("fancy") chroma upsampling. Colour is stored at
/// half the resolution by most cameras (4:2:0): the brightness of an edge is exact to the pixel, its hue is not.
///
/// Every warning of libjpeg's about the picture's data is damage: libjpeg itself goes on and fills what is missing with
/// grey. Fails with kDamagedPicture, kTooLarge (also when memory runs out), or kNotAPicture for CMYK and for kinds of
/// JPEG that no camera writes. Size is checked against the upper limit only.
[[nodiscard]] Result<DecodedPicture> decode_jpeg(Bytes bytes);

}  // namespace glintline
