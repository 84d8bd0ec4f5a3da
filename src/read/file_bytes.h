#pragma once

#include <cstdint>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "base/result.h"

namespace glintline {

using Bytes = std::span<const std::uint8_t>;

/// Files over this size are refused unread: 1 GiB, more than 200 megapixels in any usual JPEG or PNG.
inline constexpr std::uintmax_t kMaxFileBytes = std::uintmax_t{1} << 30;

/// All bytes of a regular file, read once. Not mapped: a card or stick pulled out while a mapping is read kills the
/// program, a failed read is an Error. Fails with kFileMissing (no such file, a folder, a device, no permission, a read
/// error) or kTooLarge; `where` stays empty.
[[nodiscard]] Result<std::vector<std::uint8_t>> read_bytes(const std::filesystem::path& path);

/// SHA-256 (FIPS 180-4) of `bytes` in lower-case hexadecimal.
[[nodiscard]] std::string sha256_hex(Bytes bytes);

}  // namespace glintline
