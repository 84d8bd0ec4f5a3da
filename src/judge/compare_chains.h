#pragma once

#include <map>

#include "model/chain_inspection.h"
#include "model/comparison.h"
#include "model/stroke_count.h"

namespace glintline {

/// Two inspections of one chain.
struct ChainPair {
  const ChainInspection& before;
  const ChainInspection& after;
  bool same_print = false;        ///< both lay on one and the same printed sheet: its error cancels
  std::map<int, double> strokes;  ///< counted file strokes by cutter number; may be empty
};

/// What work on a chain did to it, cutter by cutter and as a whole, and what that says of the filing.
///
/// A difference counts only beyond its own u95. Errors cancel only where both days truly share them: of one print, its
/// scale; never pose, focal length, stand-off or thicknesses, which act through another camera place each day.
/// Chips are paired by their place along the edge: filing moves edge and corner alike, so that place stays.
/// A cutter that got longer beyond its uncertainty is no change but a contradiction: another cutter, or days swapped.
/// What was filed off is bevel: base length before + lost tip - base length after (judge/wedge.h).
[[nodiscard]] Comparison compare_chains(const ChainPair& pair);

/// What the counted strokes took off each cutter that both days saw.
[[nodiscard]] std::vector<StrokeCount> stroke_counts(const ChainPair& pair);

}  // namespace glintline
