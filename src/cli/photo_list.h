#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"

namespace glintline {

/// The photographs behind what the user named: files as they are, folders by the pictures in them (.jpg, .jpeg, .png,
/// in order of name, not their folders, none of the pictures this program drew). A file named twice comes once.
/// Fails: kBadOption for a folder without pictures, kFileMissing for one that may not be read.
[[nodiscard]] Result<std::vector<std::filesystem::path>> photo_list(const std::vector<std::string>& named);

}  // namespace glintline
