#pragma once

#include <string>
#include <vector>

#include "model/inspection.h"

namespace glintline {

/// What the terminal can do.
struct TableStyle {
  int width = 80;            ///< columns
  bool unicode = false;      ///< may print more than ASCII
  bool colour = false;       ///< understands ANSI colour; never the only sign of anything
  bool all_reasons = false;  ///< every reason, not the main ones only
};

/// The inspections as a person reads them on a terminal: one row a cutter with its decision, values `+- u95` (k = 2)
/// under a head with the units, the reasons beside the row or, on a narrow terminal, under it; one line for a refused
/// photograph; then what several photographs have to be told, a count of the decisions and the line of caution. Columns
/// nobody has a value for are left out.
[[nodiscard]] std::string table_text(const std::vector<Inspection>& inspections, const TableStyle& style);

}  // namespace glintline
