#pragma once

#include <optional>
#include <string>

#include "read/file_bytes.h"

namespace glintline {

enum class PictureFormat { kJpeg, kPng };

/// What the first bytes say the file is; its name is never looked at. nullopt when it is neither JPEG nor PNG.
[[nodiscard]] std::optional<PictureFormat> picture_format(Bytes bytes);

/// For bytes that are neither: what they are instead and what to do, in one line.
[[nodiscard]] std::string why_not_read(Bytes bytes);

}  // namespace glintline
