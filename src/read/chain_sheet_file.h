#pragma once

#include <filesystem>
#include <string>

#include "base/result.h"
#include "model/chain_sheet.h"

namespace glintline {

/// Reads a chain's sheet (TOML 1.0; calib/README.md lists the keys). All keys are optional. Lengths in mm, angles in
/// degrees, radii in micrometres, as the keys' names say.
/// Fails with kFileMissing, or kBadOption with file and line: not TOML, an unknown key, an impossible value, one that
/// looks like another unit, limits that contradict one another.
[[nodiscard]] Result<ChainSheet> read_chain_sheet(const std::filesystem::path& path);

/// The same from a text that would stand in the file `path`.
[[nodiscard]] Result<ChainSheet> parse_chain_sheet(const std::string& text, const std::filesystem::path& path);

}  // namespace glintline
