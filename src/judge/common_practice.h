#pragma once

#include "model/chain_sheet.h"

namespace glintline {

/// The limits of a chain: the sheet's own where it sets them, else common practice, each with its source. The drop
/// and its setting never exceed kDropCapMm. A default-constructed sheet gives common practice for a chain of unknown
/// pitch in hard or frozen wood.
[[nodiscard]] Limits limits_of(const ChainSheet& sheet);

}  // namespace glintline
