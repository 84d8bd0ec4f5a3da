#pragma once

#include <string>

#include "read/file_bytes.h"

namespace glintline {

/// The name of an embedded ICC profile that clearly shows other colours than sRGB would ("Display P3"), else empty: for
/// no profile, a broken one, one that is not RGB, and the many spellings of sRGB. Told by what the profile does to a
/// grid of colours, not by its name.
[[nodiscard]] std::string profile_unlike_srgb(Bytes icc);

}  // namespace glintline
