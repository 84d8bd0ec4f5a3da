#pragma once

#include <cmath>

namespace glintline {

/// A step from 0 to 1 at t = 0, blurred by a Gaussian of standard deviation 1: the normal distribution's own integral.
[[nodiscard]] inline double blurred_step(double t) { return 0.5 * std::erfc(-t * M_SQRT1_2); }

}  // namespace glintline
