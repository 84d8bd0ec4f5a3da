#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "model/inspection.h"

namespace glintline {

/// The inspection as one line of JSON (RFC 8259) without a line end, complete and exact: `inspection_from_json` gives
/// the same values to the last bit, budgets and marks included. Units are the model's own (mm, um, rad, px), standard
/// uncertainties are not expanded. For people and other programs there is report/json.h.
[[nodiscard]] std::string to_json(const Inspection& inspection);

/// Fails: kBadOption for text that is no such document, or of a newer form than this program knows, saying where in it.
[[nodiscard]] Result<Inspection> inspection_from_json(std::string_view text);

}  // namespace glintline
