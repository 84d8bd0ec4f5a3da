#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"

namespace glintline {

/// One key of a chain's sheet, as a person is asked for it.
struct SheetQuestion {
  std::string key;           ///< "pitch_mm"; "limits.retired_length_mm" stands in a section
  std::string question;      ///< "Pitch: distance over three neighbouring rivets, divided by two, in mm"
  std::string default_text;  ///< what holds where nobody answers, for the comment
  bool text = false;         ///< the value stands in quotation marks
};

/// All that a new sheet asks, in order.
[[nodiscard]] const std::vector<SheetQuestion>& sheet_questions();

struct SheetAnswer {
  std::string key;
  std::string value;  ///< as typed; empty: not answered
};

/// A commented sheet (TOML) with what was answered; a key without an answer stands as a comment with its default.
/// Fails: kBadOption, by the same checks that reading a sheet makes, `where` being the key.
[[nodiscard]] Result<std::string> chain_sheet_text(const std::vector<SheetAnswer>& answers);

}  // namespace glintline
