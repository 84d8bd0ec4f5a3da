#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/limits.h"
#include "model/measurement.h"
#include "model/verdict.h"

namespace glintline {

/// What one quantity of a cutter says, before the quantities are weighed against one another.
struct Ruling {
  Finding finding;
  std::optional<Action> calls_for;  ///< proven need; nothing where the quantity calls for nothing
  std::vector<Action> also;         ///< goes with it
  bool safety = false;              ///< undecided about this, the cutter must not be used as if it were right
  bool needed = false;              ///< this view should give it: without it "leave" cannot be said
  std::vector<std::string> notes;   ///< lines that follow the finding's text
  std::vector<std::string> would_decide;
};

/// What of a cutter must come off, from the working corner backwards.
struct Stock {
  Quantity back_mm;
  std::string reason;  ///< "a chip"
};

/// The edge: its rounding and its chips (plan), or that this view does not show them (profile).
struct EdgeRuling {
  Ruling rounding;
  Ruling chips;
  std::optional<Stock> stock;  ///< what filing must take at least; nothing where no need is proven
};
[[nodiscard]] EdgeRuling rule_edge(const CutterMeasurement& cutter, const Limits& limits, ViewKind view);

/// The gauge drop. in: what is filed back lowers the top plate, and so the drop, by the top's slope.
[[nodiscard]] Ruling rule_gauge(const CutterMeasurement& cutter, const std::optional<Stock>& stock,
                                const Limits& limits, ViewKind view);

/// The length, as it is and as the needed filing would leave it.
[[nodiscard]] Ruling rule_length(const CutterMeasurement& cutter, const std::optional<Stock>& stock,
                                 const Limits& limits, ViewKind view);

/// Edge angle (plan) and, against limits of the sheet's own alone, hook angle (profile). Empty where not measured.
[[nodiscard]] std::vector<Ruling> rule_angles(const CutterMeasurement& cutter, const Limits& limits, ViewKind view);

}  // namespace glintline
