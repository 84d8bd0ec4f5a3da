#pragma once

#include <string>
#include <vector>

#include "cli/exit_code.h"

namespace glintline {

/// What the user typed behind `glintline lens`, unread. Empty means not given.
struct LensOptions {
  std::vector<std::string> photos;
  std::string output;  ///< camera file; else one named after the camera, in calib/
  std::string printed;
  std::string square;
};

/// `glintline lens`: learns a camera from photographs of the card, writes its file and a picture of coverage and misses
/// beside it, and says how well it is known.
[[nodiscard]] ExitCode learn_camera(const LensOptions& options);

}  // namespace glintline
