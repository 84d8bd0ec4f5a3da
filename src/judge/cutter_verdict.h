#pragma once

#include "model/limits.h"
#include "model/measurement.h"
#include "model/verdict.h"

namespace glintline {

/// Decides what to do with one cutter, from what one photograph gave of it.
///
/// Each value is held against its limits with the guard band of ISO 14253-1. Then, in this order: proven too much drop
/// (it hurts); proven end of life, as it is or as the needed filing would leave it; undecided about either of the two;
/// the most that is proven of filing, lowering the gauge and touching up; undecided about anything else, or a value
/// missing that this view should give; leave. A view is not blamed for what it cannot show: a profile picture may say
/// leave, and `why` names what was not judged.
/// out: `why` starts with the line that decided; `would_decide` is empty unless something is undecided or missing.
/// It is advice: the chain maker's instruction, local rules and qualified people decide.
[[nodiscard]] Verdict judge_cutter(const CutterMeasurement& cutter, const Limits& limits, ViewKind view);

}  // namespace glintline
