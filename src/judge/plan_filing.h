#pragma once

#include <vector>

#include "judge/cutter_sequence.h"
#include "judge/sighted_values.h"
#include "model/chain_inspection.h"

namespace glintline {

/// What a filing plan is made from.
struct FilingTask {
  ChainPhotos chain;
  const std::vector<JoinedCutter>& cutters;  ///< with their verdicts
  const ChainSheet& sheet;
  const Limits& limits;
  StrokeStock stock;
};

/// How to file the chain so that every edge is sharp and all cutters are equally long.
///
///   usable_i = length to the undamaged edge line - what filing must take there (judge/wedge.h)
///   target   = least usable_i: the shortest usable length, never the shortest by itself
///   take_i   = length_i - target, errors that both share cancelling (judge/traced_value.h)
///   bevel_i  = base_i + lost tip_i - target: what the file removes, more than the cutter gets shorter
///   drop after = drop - (take - where the flat top begins) tan(top slope)
///   gauge take = setting for the length afterwards - drop after; never so much that the drop could pass the most
///                allowed (guard band of ISO 14253-1)
///
/// Cutters at their end (verdict retire) do not set the target: they are replaced by somebody qualified, or the chain
/// is retired. Where no cutter needs filing and the lengths are even enough, nothing is filed and there is no target.
/// source: all cutters to the length of the shortest usable one, ICFR handbook; the rest is geometry.
[[nodiscard]] FilingPlan plan_filing(const FilingTask& task);

/// Mean length of the left-handers less that of the right-handers; nothing where a hand is missing.
[[nodiscard]] std::optional<TracedValue> left_less_right(const ChainPhotos& chain,
                                                         const std::vector<JoinedCutter>& cutters);

/// Longest less shortest cutter, with their shared errors cancelling; nothing for fewer than two.
[[nodiscard]] std::optional<TracedValue> length_spread(const ChainPhotos& chain,
                                                       const std::vector<JoinedCutter>& cutters);

}  // namespace glintline
