#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/filing_plan.h"
#include "model/measurement.h"

namespace glintline {

/// One quantity of one cutter (or of the chain) before and after. Lengths in mm, radii in um, angles in rad: the unit
/// is the quantity's own, as in CutterMeasurement.
struct Change {
  std::string quantity;  ///< "length", "gauge drop", "edge radius", as a person reads it
  std::optional<Quantity> before;
  std::optional<Quantity> after;
  std::optional<Quantity> difference;  ///< after less before; scale errors cancel only where both share them
  bool real = false;                   ///< |difference| beyond its u95
  std::string text;                    ///< "0.42 +- 0.06 mm filed off"
};

struct ComparedCutter {
  int number = 0;
  std::optional<Hand> hand;
  std::vector<Change> changes;
  std::vector<std::string> findings;  ///< "chip at 2.1 mm is still there, 0.12 mm deep"
  bool damage_left = false;
};

/// A chain before and after work on it.
struct Comparison {
  std::vector<ComparedCutter> cutters;
  std::vector<Change> chain;                    ///< evenness, left against right
  std::vector<std::string> verdict;             ///< on the filing itself, most important first
  std::vector<std::string> not_compared;        ///< and why
  std::optional<StrokeStock> stock_per_stroke;  ///< learned from this very work, where the strokes were counted
};

}  // namespace glintline
