#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "cli/exit_code.h"
#include "report/html_report.h"

namespace glintline {

/// What the user typed behind `glintline report`. Empty means not given.
struct ReportOptions {
  std::string record;
  std::string chain;
  std::string at;     ///< the inspection's time, or its beginning: "2026-11"; else the latest
  std::string stage;  ///< the latest of that stage
  std::string output;
  std::string since;       ///< stage or time of an earlier inspection: what changed since then
  bool same_card = false;  ///< both days lay on one and the same printed sheet
  bool no_pictures = false;
};

/// `glintline report`: writes the HTML report of a recorded inspection.
[[nodiscard]] ExitCode write_report(const ReportOptions& options);

/// Close-ups of all measured cutters, drawn from the photographs where they still are what was inspected (same hash).
/// `left_out` gets a line for each photograph that is not.
[[nodiscard]] std::vector<ReportPicture> report_pictures(const ChainInspection& inspection,
                                                         std::vector<std::string>& left_out);

}  // namespace glintline
