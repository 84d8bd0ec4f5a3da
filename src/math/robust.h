#pragma once

#include <span>
#include <vector>

namespace glintline {

/// How much a fit listens to a point far from it.
enum class Loss {
  kSquares,  ///< least squares: every point counts
  kHuber,    ///< far points pull with a bounded force (tuning constant 1.345)
  kTukey,    ///< points beyond 4.685 scales are ignored (bisquare); starts from a least-median-of-squares fit
};

/// How the line and circle fits treat their points.
struct FitOptions {
  Loss loss = Loss::kSquares;
  /// Standard deviation (unit of the points) below which the noise is not believed, so that few or rounded points do
  /// not claim perfection; 0 believes everything.
  double least_sigma = 0;
  /// The points stand in the order of the outline: their residuals' autocorrelation then widens the covariance.
  bool ordered = false;
  /// Relative weights (1/variance) of the points; empty: all alike. Assumes as many as points, all >= 0.
  std::span<const double> weights = {};
};

/// Weight of a point at `t` = residual / scale: psi(t) / t. Tuning constants give 95 % efficiency on normal noise
/// (Holland & Welsch, Robust regression using iteratively reweighted least-squares, Commun. Stat. A6, 1977).
[[nodiscard]] double robust_weight(Loss loss, double t);

/// Scale of residuals of a fit with `parameters` parameters: MAD about zero, normal-consistent, corrected for the
/// degrees of freedom the fit took.
[[nodiscard]] double residual_scale(std::span<const double> residuals, int parameters);

/// Variance to put before (X'X)^-1 over the points not rejected: sum psi² / (n - p) / (mean psi')² (Huber, Robust
/// Statistics, 1981, eq. 7.6.2). `residuals` already multiplied by the square root of their relative weights. For
/// kSquares this is the usual sum of squares / (n - p). Infinite where no degree of freedom is left.
[[nodiscard]] double residual_variance(std::span<const double> residuals, double scale, Loss loss, int parameters);

}  // namespace glintline
