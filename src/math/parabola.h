#pragma once

#include <algorithm>

namespace glintline {

/// Apex of the parabola through three neighbours one step apart, in steps from the middle one: -0.5 to 0.5; 0 where they
/// have no peak.
[[nodiscard]] inline double apex(double before, double at, double after) {
  const double bend = before - 2 * at + after;
  return bend < 0 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0.0;
}

}  // namespace glintline
