#include "math/random_effects.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>

namespace glintline {

RandomEffects random_effects(std::span<const double> values, std::span<const double> u) {
  assert(!values.empty() && values.size() == u.size());
  double sum_w = 0;
  double sum_w2 = 0;
  double sum_wx = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double w = 1 / (u[i] * u[i]);
    sum_w += w;
    sum_w2 += w * w;
    sum_wx += w * values[i];
  }
  RandomEffects result;
  for (std::size_t i = 0; i < values.size(); ++i) {
    result.q += std::pow((values[i] - sum_wx / sum_w) / u[i], 2);
  }
  const double dof = static_cast<double>(values.size()) - 1;
  const double scale = sum_w - sum_w2 / sum_w;
  const double between2 = scale > 0 ? std::max(0.0, (result.q - dof) / scale) : 0;
  double weights = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double w = 1 / (u[i] * u[i] + between2);
    weights += w;
    result.mean += w * values[i];
  }
  result.mean /= weights;
  result.u_mean = 1 / std::sqrt(weights);
  result.between = std::sqrt(between2);
  return result;
}

}  // namespace glintline
