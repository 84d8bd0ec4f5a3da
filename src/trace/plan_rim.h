#pragma once

#include <Eigen/Core>
#include <optional>

namespace glintline {

/// A rim's outline beyond its strongest step.
struct RimStep {
  double apart = 0;  ///< samples outside the strongest step
  /// Two steps explain the change better, but not well: there may be only one of a shape that no blur has.
  bool doubtful = false;
};

/// How far outside a rim's strongest step, in samples, its outline lies.
///
/// A rounded rim seen from above makes two parallel steps: where it turns away from the light and where it ends before
/// what lies below. The second is the weaker one and often no more than a shoulder of the first. Model, in the mean
/// change per sample along lines parallel to the rim:
///   change(k) = base + h1 S(k - x1) + h2 S(k - x2),  x2 > x1, h1, h2 > 0
/// with one S for both, a step under a Gaussian blur of unknown width differenced over four samples, from just inside
/// the first step outwards; least squares over a grid of x1, x2 and the width.
///
/// in: `change` along the outward normal, colour distances; `crest`: the strongest step's sample.
/// out: x2 - x1; nothing where one step explains the change as well.
[[nodiscard]] std::optional<RimStep> second_step(const Eigen::VectorXd& change, int crest);

}  // namespace glintline
