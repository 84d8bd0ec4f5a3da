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
  bool real = false;                   ///< |difference| beyond its u95, or before and after apart by more than theirs
  std::string text;                    ///< "0.42 +- 0.06 mm filed off"
  /// Where `before` or `after` is not known: nothing over this would have gone unseen.
  std::optional<double> before_most = std::nullopt;
  std::optional<double> after_most = std::nullopt;
};

/// A chip before and after. One of the depths may be absent: the chip is gone, or is new.
struct ComparedChip {
  double at_mm = 0;  ///< along the edge from the working corner, as last seen
  std::optional<Quantity> before_mm;
  std::optional<Quantity> after_mm;
};

/// How an edge stands after the work.
enum class EdgeAfter {
  kClean,     ///< searched for chips, and not dull
  kDamaged,   ///< a chip that matters, or a dull edge
  kNotKnown,  ///< not seen well enough
};

struct ComparedCutter {
  int number = 0;
  std::optional<Hand> hand;
  std::vector<Change> changes;
  bool searched_after = false;        ///< the edge, for chips
  std::vector<ComparedChip> chips;    ///< known only where the edge was searched after
  std::vector<std::string> findings;  ///< "chip at 2.1 mm is still there, 0.12 mm deep"
  EdgeAfter edge = EdgeAfter::kNotKnown;
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
