#pragma once

#include <string>
#include <vector>

#include "model/inspection.h"

namespace glintline {

/// The inspections as comma-separated values (RFC 4180, but with plain line feeds), one row a cutter under a head
/// row with the units in the names; a photograph without cutters gets one row too, so that nothing goes missing.
/// Cells of quantities that could not be had are empty. "." is the decimal point; `u95` has k = 2.
[[nodiscard]] std::string csv_text(const std::vector<Inspection>& inspections);

}  // namespace glintline
