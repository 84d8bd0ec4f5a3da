#pragma once

#include "model/chain_sheet.h"
#include "model/quantity.h"

namespace glintline {

/// The limits of a chain: the sheet's own where it sets them, else common practice, each with its source. The drop
/// and its setting never exceed kDropCapMm. A default-constructed sheet gives common practice for a chain of unknown
/// pitch in hard or frozen wood.
[[nodiscard]] Limits limits_of(const ChainSheet& sheet);

/// The same, where a photograph gave the pitch and the sheet does not: common practice's gauge settings go by pitch.
/// The measured pitch is only taken where it cannot be another size's within its u95.
[[nodiscard]] Limits limits_of(const ChainSheet& sheet, const std::optional<Quantity>& measured_pitch_mm);

}  // namespace glintline
