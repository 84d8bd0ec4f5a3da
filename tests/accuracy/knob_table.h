#pragma once

#include <optional>
#include <span>
#include <string>

#include "accuracy/plan_study.h"
#include "accuracy/profile_study.h"

namespace glintline::testing {

/// The knob in the name VIEW-KNOB-SEED of a study photograph: "all" for every knob at random, "usual" for none turned.
/// Nothing for photographs named otherwise.
[[nodiscard]] std::optional<std::string> knob_of(const std::string& photo);

/// The photographs of one knob.
[[nodiscard]] ProfileStudy of_knob(const ProfileStudy& study, const std::string& knob);

/// How cutters were found, and then a block for each quantity: a row a knob with bias, spread, 95th percentile, coverage,
/// share answered and median u95. Knobs stand in alphabetical order after "all" and "usual"; photographs of no knob
/// are left out.
[[nodiscard]] std::string knob_table(const ProfileStudy& study, std::span<const char* const> quantities);

/// Radii and chips of one knob's edges.
[[nodiscard]] EdgeCounts counts_of_knob(const PlanStudy& study, const std::string& knob);

/// Rounding and chips of the plan view by knob: radii within the wished-for 15 % or 6 um, limits that hold, chips
/// found, missed and invented, and whole edges among them.
[[nodiscard]] std::string edge_table(const PlanStudy& study);

}  // namespace glintline::testing
