#pragma once

#include <optional>
#include <vector>

#include "math/geometry.h"

namespace glintline {

/// What an outline's corner looks like: flanks and the tip between them, mm.
struct CornerShape {
  double wedge_rad = 0;   ///< angle between the flanks, inside the body
  double recession = 0;   ///< from the flanks' meeting point to the outline, along the bisector
  double u_recession = 0; ///< standard uncertainty of that
};

/// Distance from the meeting point of a wedge's flanks to the half-light contour along the bisector, for a tip rounded
/// by `radius` and blurred by a Gaussian of `blur` (same unit): light at a place of the bisector is the Gaussian-weighted
/// integral of erf(w / (blur sqrt 2)) over the rounded wedge's half-width w.
/// Agrees with the computed values for sharp tips (1.285, 0.988, 0.771 blur at 60, 75, 90 degrees).
[[nodiscard]] double tip_recession(double wedge_rad, double radius, double blur);

/// The radius that explains a recession under the given blur; nothing where even a sharp tip would recede further.
[[nodiscard]] std::optional<double> tip_radius(double wedge_rad, double recession, double blur);

}  // namespace glintline
