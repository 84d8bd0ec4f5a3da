#pragma once

#include "base/result.h"
#include "cli/exit_code.h"

namespace glintline {

/// Tells an Error in one line on the log and gives the code it ends the program with: kCannotWrite for what could not
/// be written, else kUsage.
[[nodiscard]] ExitCode complained(const Error& error);

}  // namespace glintline
