#pragma once

#include <optional>
#include <vector>

#include "model/measurement.h"

namespace glintline {

/// The edge's outline in its own frame, in the outline's order.
struct Recession {
  double row_mm = 0;     ///< along the edge from the corner, of the line along the chain on which the outline was found
  double s_mm = 0;       ///< along the edge from the corner, square to it
  double behind_mm = 0;  ///< behind the edge's line
  bool seen = false;
  double flat_mm = 0;  ///< the end of the flat behind the line: more than behind_mm where a lower wall shows
};

/// A chip and the stretch it takes.
struct FoundChip {
  Chip chip;
  double from_mm = 0;
  double to_mm = 0;
};

/// Chips of the outline: stretches that stand back behind the line through their undamaged neighbours. A slow retreat
/// (a dull spot) has no steep wall, a worn or rounded corner has no neighbour on one side; both are no chips.
/// in: outline from the corner inwards; `mm_per_px`; [from, to] the straight part of the edge.
[[nodiscard]] std::vector<FoundChip> find_chips(const std::vector<Recession>& outline, double mm_per_px, double from_mm,
                                                double to_mm);

/// The gap that a broken working corner leaves: a stretch from the corner on that stands back behind the neighbouring
/// outline and ends in a steep wall. An outline that bends away from the line little by little, as a worn or rounded
/// corner's does, is none. Depth and width count from the neighbours and from where the lines would meet.
/// in: as for find_chips.
[[nodiscard]] std::optional<FoundChip> find_corner_gap(const std::vector<Recession>& outline, double mm_per_px);

}  // namespace glintline
