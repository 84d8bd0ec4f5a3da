#pragma once

#include <optional>
#include <string>
#include <vector>

#include "judge/traced_value.h"
#include "model/chain_inspection.h"

namespace glintline {

/// Names a quantity within a cutter, for the errors it does not share with the cutter's others.
enum class CutterValue {
  kLength,
  kDrop,
  kEdgeAngle,
  kTopSlope,
  kHook,
  kCornerRounding,
  kRadius,
  kRadiusP90,
  kNeed
};

/// A chain's photographs, and what tells them from another day's.
struct ChainPhotos {
  const std::vector<Inspection>& photos;
  int print = 0;  ///< days that share a printed card share this number
  int day = 0;    ///< two days share no photograph
};

using QuantityOf = std::optional<Quantity> CutterMeasurement::*;

/// One value seen in several photographs.
struct JoinedValue {
  TracedValue value;
  std::string contradiction;  ///< empty where all agree within the u95 of their difference
};

/// Mean over the sightings, weighted by 1/u². Where two are farther apart than the u95 of their difference, the middle
/// of the extremes, with as much u that both lie inside its u95: shown, not averaged away.
/// Nothing where no photograph gave it.
[[nodiscard]] std::optional<JoinedValue> joined_value(const ChainPhotos& chain, const JoinedCutter& cutter,
                                                      QuantityOf quantity, CutterValue what);

/// Length from the rear end to where outer side and undamaged edge line would meet: the joined length plus what the
/// plan photographs say the corner itself has lost. The plain length where no plan photograph says.
[[nodiscard]] std::optional<TracedValue> base_length(const ChainPhotos& chain, const JoinedCutter& cutter);

[[nodiscard]] const CutterMeasurement& measurement_at(const ChainPhotos& chain, const CutterSighting& sighting);

}  // namespace glintline
