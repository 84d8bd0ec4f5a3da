#pragma once

#include <vector>

#include "judge/number_cutters.h"
#include "model/chain_inspection.h"

namespace glintline {

/// All that the photographs say of each numbered cutter, in the order of their numbers.
///
/// Values of several photographs are joined by judge/sighted_values.h. Rounding and chips come from above: chips from
/// the plan photograph of the finest scale that looked for them, and what another one saw and this one did not is a
/// contradiction. The verdict is judge_cutter's; a cutter that lacks a view, or the view's main value, is never left or
/// only touched up on the strength of the other one.
[[nodiscard]] std::vector<JoinedCutter> join_views(const std::vector<Inspection>& photos, const Numbering& numbering,
                                                   const Limits& limits);

}  // namespace glintline
