#pragma once

#include <string>

#include "model/chain_inspection.h"
#include "model/comparison.h"
#include "report/table.h"

namespace glintline {

/// "retire", "out of use", "file", "use", "undecided"
[[nodiscard]] const char* word(ChainAction action);

/// A chain's inspection as a person reads it on a terminal: the decision and why, the worst cutters first, the plan in
/// the order of filing, other ways, what to photograph again, what the photographs cannot claim, what was noticed.
[[nodiscard]] std::string chain_text(const ChainInspection& chain, const TableStyle& style);

/// A chain before and after: the verdict on the filing, one line a cutter, the chain's balance, what is not compared.
[[nodiscard]] std::string comparison_text(const Comparison& comparison, const TableStyle& style);

/// The inspection as one JSON object (RFC 8259) with a line end: units and rules as in report/json.h, photographs
/// included.
[[nodiscard]] std::string chain_json(const ChainInspection& chain);
[[nodiscard]] std::string comparison_json(const Comparison& comparison);

/// One row a cutter (RFC 4180, plain line feeds), values and plan, units in the head.
[[nodiscard]] std::string chain_csv(const ChainInspection& chain);

}  // namespace glintline
