#pragma once

#include <span>
#include <vector>

#include "base/result.h"
#include "math/geometry.h"
#include "math/robust.h"

namespace glintline {

/// A circle through points of a plane, with its covariance.
struct CircleFit {
  Circle circle;
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();  ///< of (centre x, centre y, radius)
  double sigma = 0;             ///< noise of the points, square to the circle (of unit relative weight)
  int kept = 0;                 ///< points that were not rejected
  std::vector<double> weights;  ///< robust weight, 0 to 1, of every point

  [[nodiscard]] double u_radius() const;
};

/// Algebraic circle fit without iterations to get lost in: the start of fit_circle, and good enough for guesses. Its
/// radius is nearly unbiased where Kasa's shrinks on short arcs.
/// in: at least 3 points, relative weights (empty: all alike).
/// fails: kNotMeasurable with fewer points, or with all of them on one line.
/// source: Taubin, IEEE PAMI 13, 1991, eq. 6.1, by Newton's method (Chernov, Circular and linear regression,
/// 2010, 5.10).
[[nodiscard]] Result<Circle> fit_circle_algebraic(std::span<const Point2> points, std::span<const double> weights = {});

/// Circle of least squared distances square to it, by Levenberg-Marquardt from the algebraic fit; by Loss::kTukey or
/// kHuber with iterated weights and the residuals' MAD as scale. Deterministic.
/// in: at least 4 points, any unit.
/// fails: kNotMeasurable with too few points, too few agreeing, or points that lie as well on a line.
/// assumes: equal independent noise across the circle. On an arc of under about 60 degrees the radius is worth little
/// (its u says so) and to second order biased; use the flanks beside the arc instead.
[[nodiscard]] Result<CircleFit> fit_circle(std::span<const Point2> points, const FitOptions& options = {});

}  // namespace glintline
