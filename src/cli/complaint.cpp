#include "cli/complaint.h"

#include <spdlog/spdlog.h>

#include "report/text_layout.h"

namespace glintline {

ExitCode complained(const Error& error) {
  spdlog::error("{}", printable(error.where.empty() ? error.what : error.where + ": " + error.what));
  return error.fault == Fault::kCannotWrite ? ExitCode::kCannotWrite : ExitCode::kUsage;
}

}  // namespace glintline
