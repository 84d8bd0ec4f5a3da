#include "measure/corner_rounding.h"

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <cstdint>
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

/// Zero of a rising function (algorithm 748; Alefeld, Potra & Shi, ACM Trans. Math. Softw. 21, 1995). Where it does not
/// change its sign in between, the end nearer to zero.
template <typename F>
double root(const F& rising, double low, double high) {
  const double at_low = rising(low);
  const double at_high = rising(high);
  if (at_low >= 0) return low;
  if (at_high <= 0) return high;
  std::uintmax_t rounds = 40;
  const auto [a, b] = boost::math::tools::toms748_solve(rising, low, high, at_low, at_high,
                                                        boost::math::tools::eps_tolerance<double>(36), rounds);
  return 0.5 * (a + b);
}

}  // namespace

double tip_recession(double wedge_rad, double radius, double blur) {
  const double half = wedge_rad / 2;
  const double bare = radius / std::sin(half) - radius;
  if (!(blur > 0)) return bare;
  return root([&](double t) { return light_at(t, half, radius, blur) - 0.5; }, bare - 2 * blur, bare + 6 * blur);
}

// The half-light contour lies where it was seen for one radius only: light falls off there as the tip gets rounder.
std::optional<double> tip_radius(double wedge_rad, double recession, double blur) {
  const double half = wedge_rad / 2;
  if (tip_recession(wedge_rad, 0, blur) > recession) return std::nullopt;
  const double unblurred = recession / std::max(1e-3, 1 / std::sin(half) - 1);
  if (!(blur > 0)) return unblurred;
  return root([&](double radius) { return 0.5 - light_at(recession, half, radius, blur); }, 0, 2 * unblurred + blur);
}

}  // namespace glintline
