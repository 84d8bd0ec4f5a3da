#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "cli/exit_code.h"
#include "model/inspection.h"

namespace glintline {

inline constexpr const char* kStandardOutput = "-";

/// One line in the log: where, and what.
void complain(const Error& error);

[[nodiscard]] ExitCode worse(ExitCode a, ExitCode b);

/// Whether a file could be put there, asked before the work and not after it; fine for nothing and for "-".
[[nodiscard]] Result<Done> has_folder(const std::string& file);

/// To a file or, for "-", to standard output; nothing for an empty place. Complains where it fails.
[[nodiscard]] ExitCode put(const std::string& where, const std::string& text);

/// kDone, kSomeRefused or kAllRefused.
[[nodiscard]] ExitCode code_of(const std::vector<Inspection>& photos);

}  // namespace glintline
