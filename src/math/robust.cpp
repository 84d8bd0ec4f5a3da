#include "math/robust.h"

#include <cmath>
#include <limits>

#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kHuberTuning = 1.345;
constexpr double kTukeyTuning = 4.685;

/// Derivative of psi, the loss's own derivative.
double influence_slope(Loss loss, double t) {
  switch (loss) {
    case Loss::kSquares:
      return 1;
    case Loss::kHuber:
      return std::abs(t) <= kHuberTuning ? 1 : 0;
    case Loss::kTukey: {
      const double q = (t / kTukeyTuning) * (t / kTukeyTuning);
      return q < 1 ? (1 - q) * (1 - 5 * q) : 0;
    }
  }
  return 1;
}

}  // namespace

double robust_weight(Loss loss, double t) {
  switch (loss) {
    case Loss::kSquares:
      return 1;
    case Loss::kHuber:
      return std::abs(t) <= kHuberTuning ? 1 : kHuberTuning / std::abs(t);
    case Loss::kTukey: {
      const double q = (t / kTukeyTuning) * (t / kTukeyTuning);
      return q < 1 ? (1 - q) * (1 - q) : 0;
    }
  }
  return 1;
}

double residual_scale(std::span<const double> residuals, int parameters) {
  std::vector<double> distances(residuals.begin(), residuals.end());
  for (double& d : distances) d = std::abs(d);
  const auto n = static_cast<double>(residuals.size());
  if (n <= parameters) return std::numeric_limits<double>::infinity();
  return kMadToSigma * median(std::move(distances)) * std::sqrt(n / (n - parameters));
}

double residual_variance(std::span<const double> residuals, double scale, Loss loss, int parameters) {
  double squares = 0;
  double slopes = 0;
  int kept = 0;
  for (const double r : residuals) {
    const double weight = robust_weight(loss, r / scale);
    if (weight == 0) continue;
    squares += weight * weight * r * r;
    slopes += influence_slope(loss, r / scale);
    ++kept;
  }
  if (kept <= parameters || !(slopes > 0)) return std::numeric_limits<double>::infinity();
  const double mean_slope = slopes / kept;
  return squares / (kept - parameters) / (mean_slope * mean_slope);
}

}  // namespace glintline
