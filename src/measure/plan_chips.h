#pragma once

#include <optional>
#include <vector>

#include "model/measurement.h"

namespace glintline {

/// Nothing stands ahead of a filed edge's line by more, mm, short of a burr: such an outline is that of something
/// below.
constexpr double kMostAheadMm = 0.02;

/// The edge's outline in its own frame, in the outline's order.
struct Recession {
  double row_mm = 0;     ///< along the edge from the corner, of the line along the chain on which the outline was found
  double s_mm = 0;       ///< along the edge from the corner, square to it
  double behind_mm = 0;  ///< behind the edge's line
  bool seen = false;
  double flat_mm = 0;  ///< the end of the flat behind the line: more than behind_mm where a lower wall shows
  bool open = false;   ///< what lies ahead of the edge shows up to the outline: a gap, and no dirt or scratch
  bool broken = false;  ///< the edge's line of light is broken here: it is no whole edge, seen or not
};

/// A chip and the stretch it takes.
struct FoundChip {
  Chip chip;
  double from_mm = 0;
  double to_mm = 0;
  bool wall = false;  ///< its depth is that of the flat's end, behind a lower wall
};

/// What an outline was seen with.
struct OutlineSight {
  double mm_per_px = 0;
  double blur_px = 0;  ///< standard deviation, at the edge itself, the trace's averaging of rows included
};

/// Chips of the outline: stretches that stand back behind the line through their undamaged neighbours. A slow retreat
/// (a dull spot) has no steep wall, a worn or rounded corner has no neighbour on one side; both are no chips.
/// The blurred outline does not reach into a gap's corners: of one that ends in a tip of 60 degrees 1.29 s is lost, in
/// one of 90 degrees 0.77 s, in a round one nothing (s: the blur's standard deviation; computed). Half of the most is
/// added to the depth, and its range to the budget.
/// in: outline from the corner inwards; [from, to] the straight part of the edge.
[[nodiscard]] std::vector<FoundChip> find_chips(const std::vector<Recession>& outline, const OutlineSight& sight,
                                                double from_mm, double to_mm);

/// The outline behind a rounded corner's own bend instead of behind the line: the bend is what a convex outline makes
/// of the less receded places of every tenth of a millimetre, so that a chip in it, or one that reaches into it, stands
/// back from the chord across it. A bend of radius R lies up to width²/8R ahead of that chord (0.05 mm for 0.8 mm
/// and 1.5 mm). in: as for find_chips; `to_mm` along the edge from the corner, where the bend ends.
[[nodiscard]] std::vector<Recession> behind_bend(const std::vector<Recession>& outline, double to_mm);

/// The gap that a broken working corner leaves: a stretch from the corner on that stands back behind the neighbouring
/// outline and ends in a steep wall. An outline that bends away from the line little by little, as a worn or rounded
/// corner's does, is none. Depth and width count from the neighbours and from where the lines would meet.
/// in: as for find_chips.
[[nodiscard]] std::optional<FoundChip> find_corner_gap(const std::vector<Recession>& outline, double mm_per_px);

}  // namespace glintline
