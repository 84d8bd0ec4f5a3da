#pragma once

#include "judge/cutter_sequence.h"
#include "judge/sighted_values.h"
#include "model/chain_inspection.h"

namespace glintline {

/// What a whole chain is judged by.
struct ChainCase {
  ChainPhotos chain;
  const std::vector<JoinedCutter>& cutters;
  const FilingPlan& plan;
  const std::vector<ReportedFault>& reported;
  const Limits& limits;
  const CutterSequence& sequence;  ///< count: how many the chain should have
};

/// Decides about the chain; what hurts goes first.
///
/// In this order: a reported crack, loose rivet or second break (retire, whatever the photographs say: WAC 296-54-535,
/// makers' manuals); too many cutters at their end, or a target under the limit (retire); another reported fault, a
/// gauge proven too low, a cutter at its end that somebody must replace first (out of use); a gauge too close to call
/// (undecided); something to file or lower (file); cutters unseen, half seen or undecided (undecided); else use.
/// A few cutters can condemn a chain but never clear it: `cannot_claim` says how many of the others may be bad.
/// It is advice: the chain maker's instruction, local rules and qualified people decide.
[[nodiscard]] ChainVerdict judge_chain(const ChainCase& chain_case);

/// Too many to be replaced one by one: three, or a tenth of the chain where that is more (proposed, no source).
[[nodiscard]] int too_many_at_end(int cutters);

/// Reads "crack", "crack:12", "loose rivet:7", "broken", "broken twice", "bent link:3". Nothing for other words.
[[nodiscard]] std::optional<ReportedFault> reported_fault(const std::string& text);
/// What reported_fault knows, for a complaint.
inline constexpr const char* kKnownFaults = "crack, loose rivet, broken, broken twice, bent link, missing cutter";

}  // namespace glintline
