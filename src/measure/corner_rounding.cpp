#include "measure/corner_rounding.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace glintline {

namespace {

/// Half-width of the rounded wedge at `t` from the flanks' meeting point along the bisector.
double half_width(double t, double half_wedge, double radius) {
  const double centre = radius / std::sin(half_wedge);
  const double touch = centre - radius * std::sin(half_wedge);
  if (t < centre - radius) return 0;
  if (t >= touch) return t * std::tan(half_wedge);
  return std::sqrt(std::max(0.0, radius * radius - (t - centre) * (t - centre)));
}

/// Light at `p` on the bisector, 0 outside to 1 deep inside.
double light_at(double p, double half_wedge, double radius, double blur) {
  constexpr int kSteps = 64;
  double sum = 0;
  double weights = 0;
  for (int i = -kSteps; i <= kSteps; ++i) {
    const double x = 4.0 * i / kSteps;
    const double weight = std::exp(-0.5 * x * x);
    sum += weight * std::erf(half_width(p + x * blur, half_wedge, radius) / (blur * std::numbers::sqrt2));
    weights += weight;
  }
  return sum / weights;
}

}  // namespace

double tip_recession(double wedge_rad, double radius, double blur) {
  const double half = wedge_rad / 2;
  const double bare = radius / std::sin(half) - radius;
  if (!(blur > 0)) return bare;
  double low = bare - 2 * blur;
  double high = bare + 6 * blur;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (light_at(middle, half, radius, blur) < 0.5 ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

std::optional<double> tip_radius(double wedge_rad, double recession, double blur) {
  if (tip_recession(wedge_rad, 0, blur) > recession) return std::nullopt;
  double low = 0;
  double high = 2 * recession / std::max(1e-3, 1 / std::sin(wedge_rad / 2) - 1) + blur;
  for (int i = 0; i < 40; ++i) {
    const double middle = 0.5 * (low + high);
    (tip_recession(wedge_rad, middle, blur) < recession ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

}  // namespace glintline
