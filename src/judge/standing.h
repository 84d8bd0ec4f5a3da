#pragma once

#include "model/quantity.h"
#include "model/verdict.h"

namespace glintline {

/// Width of the guard band in standard uncertainties: a conforming (or not conforming) value is called wrongly with a
/// probability of 5 % at the most (ISO 14253-1, one-sided; from memory). The same as 0.82 u95.
inline constexpr double kGuardFactor = 1.645;

/// How `value` stands against the most it may be: within where value + 1.645 u <= most, beyond where
/// value - 1.645 u > most, else undecided. A value, uncertainty or limit that is not a number is undecided.
[[nodiscard]] Standing against_most(const Quantity& value, double most);

/// The mirror image: within where value - 1.645 u >= least.
[[nodiscard]] Standing against_least(const Quantity& value, double least);

}  // namespace glintline
