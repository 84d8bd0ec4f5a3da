#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/chain_event.h"
#include "model/chain_inspection.h"

namespace glintline {

/// A chain as one inspection found it. Means are over the cutters that have the value.
struct HistoryPoint {
  std::string at;
  std::string stage;
  ChainAction action = ChainAction::kUndecided;
  int cutters = 0;  ///< with at least one value
  std::optional<Quantity> length_mm;
  std::optional<Quantity> rounding_um;  ///< of the cutters' median edge radii
  std::optional<Quantity> drop_mm;
  std::optional<double> chips_a_cutter;  ///< of those searched for chips
  double hours = 0;                      ///< worked since the record began, of the jobs that say so
  double tanks = 0;
  double area_m2 = 0;
};

/// How fast the edge wore between two inspections with work and no filing between them.
struct WearRate {
  std::string from;  ///< time of the earlier inspection
  std::string to;
  std::string per;  ///< "hour", "tank", "m²"
  Quantity rounding_um;
  bool dirt = false;  ///< some of the work touched dirt or metal
  bool real = false;  ///< beyond its u95
};

/// A timed cut beside the edge that made it.
struct CuttingSpeed {
  std::string at;
  std::string wood;
  Quantity cm2_per_s;
  std::optional<Quantity> rounding_um;   ///< at the latest inspection before it, unless the chain was filed since
  std::optional<Quantity> share_of_new;  ///< of the first timed cut in the same wood
};

/// A chain's life as far as its record tells.
struct ChainHistory {
  std::string chain;
  std::vector<HistoryPoint> points;  ///< in order of time
  std::vector<ChainEvent> events;
  std::vector<WearRate> rates;
  std::vector<CuttingSpeed> speeds;
  int filings = 0;
  std::optional<CountBand> sharpenings_left;  ///< by the latest inspection that knows
  std::optional<double> cost;                 ///< purchase and filings so far
  std::string currency;
  std::optional<double> cost_per_hour;
  std::vector<std::string> statements;  ///< plain words: what changed, what is real, what cannot be said
};

/// One quantity of two chains at the same stage.
struct StageDifference {
  std::string stage;
  std::string quantity;  ///< "rounding"
  std::string first;     ///< chain
  std::string second;
  Quantity difference;  ///< second less first; um or mm as the quantity
  bool real = false;
  std::string text;
};

}  // namespace glintline
