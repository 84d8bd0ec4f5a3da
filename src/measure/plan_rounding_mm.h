#pragma once

#include <optional>
#include <string>
#include <vector>

#include "measure/plan_chips.h"
#include "measure/plan_geometry.h"
#include "model/measurement.h"

namespace glintline {

/// What the traced strips say of an edge's rounding.
struct EdgeRounding {
  std::optional<Quantity> median_um;
  std::optional<Quantity> p90_um;
  std::optional<double> limit_um;
  EdgeChart chart;
  std::string missing;  ///< why there is no value; empty where there is one
};

/// Radius from strip width: the fitted strip's lit part w reaches from the end of the flat, where the normal leans by
/// -d against the sight line, to the horizon: w = r (sin(horizon) - sin(start)), start = -d + what the flat's own
/// gloss hides; r = w / (sin(horizon) - sin(start)).
/// Uncertain are d (top slope), start and horizon; they move every station alike.
/// in: `u_slope_rad` of the top slope; chips are left out of median and percentile.
[[nodiscard]] EdgeRounding edge_rounding(const PlateOutline& plate, const PlanGeometry& geometry,
                                         const PlanSpace& space, const std::vector<FoundChip>& chips,
                                         double u_slope_rad);

}  // namespace glintline
