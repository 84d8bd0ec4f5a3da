#pragma once

#include <cmath>

namespace glintline {

/// Standard uncertainty of the mean of two values that lie `apart`, of which one is right with that chance and the mean
/// is weighed by it: the standard deviation of a Bernoulli variable.
[[nodiscard]] inline double u_of_either(double chance, double apart) { return std::sqrt(chance * (1 - chance)) * apart; }

}  // namespace glintline
