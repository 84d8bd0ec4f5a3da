#pragma once

namespace glintline {

/// A step from 0 to 1 at t = 0, blurred by a Gaussian of standard deviation 1: the normal distribution's own integral,
/// to 2e-6. Tabulated: outlines are fitted by hundreds of thousands of them, which leave no time for erfc itself.
[[nodiscard]] double blurred_step(double t);

}  // namespace glintline
