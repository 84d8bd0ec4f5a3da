#pragma once

#include "cli/exit_code.h"
#include "cli/look_order.h"

namespace glintline {

/// `glintline look`: measures the photographs, prints the table (or, with "-", JSON or CSV and nothing else), writes
/// the asked-for files. Progress and complaints go to the log.
[[nodiscard]] ExitCode look(const LookOptions& options);

}  // namespace glintline
