#pragma once

#include <string>
#include <vector>

#include "model/chain_history.h"

namespace glintline {

/// An event in a line: "job: 1.5 h, spruce, touched dirt", "filed by Kim, 4 strokes a cutter".
[[nodiscard]] std::string event_words(const ChainEvent& event);

/// A chain's life as plain text for the terminal, and the differences between chains, lines with "+-".
[[nodiscard]] std::string history_text(const ChainHistory& history);
[[nodiscard]] std::string differences_text(const std::vector<StageDifference>& differences);

}  // namespace glintline
