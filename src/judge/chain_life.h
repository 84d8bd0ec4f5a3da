#pragma once

#include <string>
#include <vector>

#include "model/chain_history.h"
#include "model/recorded_inspection.h"

namespace glintline {

/// What a record holds of one chain, in order of time.
struct ChainRecord {
  std::string chain;
  std::vector<RecordedInspection> inspections;
  std::vector<ChainEvent> events;
};

/// The chain's life: means at each inspection, wear by the hour, tank and m² of cut where no filing came between, what
/// filings took, cost, cutting speed.
///
/// A mean is over the cutters that have the value, unweighted; errors that its values share are not averaged away
/// (judge/traced_value.h; days are taken to share none). Where not all of the chain's cutters were seen, the mean of
/// all is less certain by s sqrt((1 - n/N) / n) (simple random sampling without replacement, Cochran, Sampling
/// Techniques, 3rd ed., eq. 2.20, from memory). A cutter with no rounding seen above a limit counts as half the limit,
/// equally likely anywhere below (u = limit / sqrt(12); JCGM 100:2008, 4.3.7). Wear compares the same cutters only.
[[nodiscard]] ChainHistory life_of(const ChainRecord& record);

/// Chains against one another at stages of one name, the last of a name where there are several. `real` where the
/// difference is beyond its u95.
[[nodiscard]] std::vector<StageDifference> stage_differences(const std::vector<ChainRecord>& records);

}  // namespace glintline
