#pragma once

#include <string>
#include <vector>

#include "judge/cutter_sequence.h"
#include "model/chain_inspection.h"

namespace glintline {

/// The most cutters of a chain that may be bad though none of those looked at was, with 95 % confidence: the largest K
/// for which drawing `seen` good ones out of `all` has a probability of 5 % or more,
///   C(all - K, seen) / C(all, seen) >= 0.05
/// assumes: the cutters looked at were not chosen for how they look, and damage does not come in a certain rhythm.
/// source: hypergeometric distribution; for many cutters the rule of three, 3 / seen (Hanley & Lippman-Hand, If nothing
/// goes wrong, is everything all right?, JAMA 249 (1983) 1743).
[[nodiscard]] int most_bad_unseen(int all, int seen);

/// Which cutters to photograph next, worst gap first: the neighbours of damaged ones, because a stone seldom hits one
/// cutter alone (common practice, no source), then the middle of the longest stretches without a photograph, hands in
/// turn. At most `most`, each with its place and why.
[[nodiscard]] std::vector<std::string> look_next(const std::vector<JoinedCutter>& cutters,
                                                 const CutterSequence& sequence, std::size_t most);

}  // namespace glintline
