#pragma once

#include <string>
#include <string_view>
#include <variant>

#include "base/result.h"
#include "model/chain_event.h"
#include "model/recorded_inspection.h"

namespace glintline {

// As in record/inspection_json.h: one line, complete and exact. A record's export is such lines.

[[nodiscard]] std::string to_json(const RecordedInspection& recorded);
[[nodiscard]] std::string to_json(const ChainEvent& event);

/// Fail: kBadOption for text that is no such document, whose references lead nowhere, or of a newer form than known.
[[nodiscard]] Result<RecordedInspection> recorded_inspection_from_json(std::string_view text);
[[nodiscard]] Result<ChainEvent> event_from_json(std::string_view text);

/// A line of an export.
using RecordEntry = std::variant<RecordedInspection, ChainEvent>;
[[nodiscard]] Result<RecordEntry> entry_from_json(std::string_view text);

}  // namespace glintline
