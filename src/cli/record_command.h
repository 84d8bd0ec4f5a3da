#pragma once

#include <string>

#include "cli/exit_code.h"

namespace glintline {

/// What the user typed behind `glintline record`. Empty means not given.
struct RecordCommandOptions {
  std::string record;
  std::string file;  ///< to export to or import from; "-" is standard output or input
};

/// `glintline record list`: what the record holds, a line an entry.
[[nodiscard]] ExitCode list_record(const RecordCommandOptions& options);

/// `glintline record export`: every entry as a line of JSON, exact.
[[nodiscard]] ExitCode export_record(const RecordCommandOptions& options);

/// `glintline record import`: adds the entries of an export that are not there yet. A bad line is told and the others
/// go on.
[[nodiscard]] ExitCode import_record(const RecordCommandOptions& options);

}  // namespace glintline
