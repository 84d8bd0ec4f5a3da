#pragma once

#include <optional>
#include <string>

#include "model/chain_sheet.h"

namespace glintline {

/// How many cutters a loop holds.
struct CutterCount {
  int likely = 0;
  bool exact = true;  ///< false: the links do not divide evenly, one more or less is possible
};

/// From drive links and sequence: links / 2, / 2.5, / 3. Nothing where the sheet does not count the links.
/// source: 72 links hold 36 cutters in full sequence; semi-skip, full skip: trade pages (TRADE: S, M).
[[nodiscard]] std::optional<CutterCount> expected_cutters(const ChainSheet& sheet);

/// Hands and places along one loop. Hands alternate; behind `alike_after` once two of a hand follow one another.
struct CutterSequence {
  std::optional<int> count;
  std::optional<Hand> first;
  std::optional<int> alike_after;
  Counting counting = Counting::kBehind;

  /// Nothing where not one hand is known.
  [[nodiscard]] std::optional<Hand> hand_of(int number) const;
  /// "8th left-hander behind the mark"; "8th cutter behind the mark" where hands are not known.
  [[nodiscard]] std::string place_of(int number) const;
  /// `number` moved by `steps`, round the loop where its count is known. Nothing before the first of a loop of unknown
  /// count.
  [[nodiscard]] std::optional<int> moved(int number, int steps) const;
};

[[nodiscard]] Hand other_hand(Hand hand);

/// "1st", "22nd", "13th"
[[nodiscard]] std::string ordinal(int number);

}  // namespace glintline
