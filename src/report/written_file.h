#pragma once

#include <filesystem>
#include <string_view>

#include "base/result.h"

namespace glintline {

/// Writes `bytes` to `path` whole or not at all: into a file beside it, flushed to the disk, then renamed over it, so
/// that an earlier result survives a full disk or a pulled plug. Devices and pipes (/dev/stdout) are written directly.
/// Fails: kCannotWrite, naming the path.
[[nodiscard]] Result<Done> write_file(const std::filesystem::path& path, std::string_view bytes);

/// Makes `folder`, and what it lies in, where it is not there yet. Fails: kCannotWrite, naming the folder.
[[nodiscard]] Result<Done> make_folder(const std::filesystem::path& folder);

}  // namespace glintline
