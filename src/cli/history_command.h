#pragma once

#include <string>
#include <vector>

#include "cli/exit_code.h"

namespace glintline {

/// What the user typed behind `glintline history`. Empty means not given.
struct HistoryOptions {
  std::string record;
  std::vector<std::string> chains;  ///< none: all
};

/// `glintline history`: each chain's life, and several chains stage against stage.
[[nodiscard]] ExitCode show_history(const HistoryOptions& options);

}  // namespace glintline
