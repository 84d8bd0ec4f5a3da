#pragma once

#include <span>
#include <vector>

#include "base/result.h"
#include "math/geometry.h"
#include "math/robust.h"

namespace glintline {

/// A straight line through points of a plane, with its covariance.
struct LineFit {
  Line2 line;  ///< `point` is the weighted centroid; the direction runs from the first towards the last point
  /// Covariance of (distance of the line at `line.point` along its normal, angle in rad). Both grow together: a point
  /// of the line at `along` moves by distance + along * angle.
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  double sigma = 0;             ///< noise of the points, square to the line (of unit relative weight)
  int kept = 0;                 ///< points that were not rejected
  std::vector<double> weights;  ///< robust weight, 0 to 1, of every point

  /// Standard uncertainty of the line's place, square to it, at the foot of `at`.
  [[nodiscard]] double u_at(const Point2& at) const;
  [[nodiscard]] double u_angle_rad() const;
};

/// Line of least squared distances *square to it* (total least squares; Golub & Van Loan, SIAM J. Numer. Anal. 17,
/// 1980), by Loss::kTukey or kHuber with iterated weights and the residuals' MAD as scale. Rotating the points rotates
/// the line.
/// in: at least 3 points, any unit. Deterministic.
/// fails: kNotMeasurable with too few points, all of them in one place, or too few agreeing.
/// assumes: equal independent noise across the line, small against the points' extent (covariance to first order).
[[nodiscard]] Result<LineFit> fit_line(std::span<const Point2> points, const FitOptions& options = {});

/// The points within `tolerance` of the line that most of them agree on, in their order. Agreement falls off as Tukey's
/// biweight of width `tolerance`, and the best line through any two of some 60 evenly chosen points is taken and
/// settled (MLESAC's idea, Torr & Zisserman, Computer Vision and Image Understanding 78, 2000, without its random
/// draws). Unlike a median it finds the straight part where that is no more than a third of an outline that also bends.
[[nodiscard]] std::vector<Point2> agreeing_points(std::span<const Point2> points, double tolerance);

/// y = intercept + slope x with noise in y alone: for outlines found column by column.
struct Regression {
  double intercept = 0;
  double slope = 0;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of (intercept, slope)
  double sigma = 0;                                      ///< residual standard deviation in y
};

/// Ordinary least squares. in: as many x as y, at least 3. fails: kNotMeasurable with fewer or with all x alike.
[[nodiscard]] Result<Regression> fit_regression(std::span<const double> x, std::span<const double> y);

}  // namespace glintline
