#pragma once

#include <span>

namespace glintline {

/// What several measured values of different things of one kind say of the kind.
struct RandomEffects {
  double mean = 0;
  double u_mean = 0;   ///< standard uncertainty of the mean
  double between = 0;  ///< standard deviation of the true values about the mean; 0 where the scatter needs none
  double q = 0;        ///< weighted sum of squares about the fixed-effect mean (Cochran's Q)
};

/// values x_i with standard uncertainties u_i, x_i = mean + b_i + e_i, both normal:
///   w_i = 1/u_i², Q = sum w_i (x_i - x_w)², between² = max(0, (Q - (n-1)) / (sum w - sum w²/sum w)),
///   mean = sum w*_i x_i / sum w*_i, w*_i = 1 / (u_i² + between²)
/// assumes: at least one value, as many u, all u > 0, independent.
/// source: DerSimonian & Laird, Meta-analysis in clinical trials, Controlled Clinical Trials 7 (1986), eqs. (7), (8).
[[nodiscard]] RandomEffects random_effects(std::span<const double> values, std::span<const double> u);

}  // namespace glintline
