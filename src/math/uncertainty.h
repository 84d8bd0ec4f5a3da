#pragma once

#include <Eigen/Core>
#include <functional>
#include <limits>
#include <span>

namespace glintline {

/// An input of a measurement.
struct UncertainInput {
  double value = 0;
  double u = 0;                                          ///< standard uncertainty
  double dof = std::numeric_limits<double>::infinity();  ///< degrees of freedom of u
};

/// What a measurement's inputs make of its result.
struct CombinedUncertainty {
  double value = 0;
  double u = 0;                                          ///< combined standard uncertainty
  double dof = std::numeric_limits<double>::infinity();  ///< effective degrees of freedom
  Eigen::VectorXd contributions;                         ///< signed, c_i u_i, one an input
};

/// The result as a function of its inputs.
using MeasurementModel = std::function<double(const Eigen::VectorXd&)>;

/// Propagates uncorrelated inputs: u² = sum (c_i u_i)², c_i u_i = (f(x_i + u_i) - f(x_i - u_i)) / 2, so that
/// curvature over one u is seen. Effective degrees of freedom after Welch and Satterthwaite.
/// assumes: the model is defined within one u of its inputs.
/// source: JCGM 100:2008, eq. (10), 5.1.3 note 2, eq. (G.2b).
[[nodiscard]] CombinedUncertainty combined(const MeasurementModel& model, std::span<const UncertainInput> inputs);

/// The same with correlated inputs: u² = z' R z, z_i = c_i u_i. `correlation` is n x n, symmetric, with ones on its
/// diagonal. The effective degrees of freedom are not defined then (JCGM 100:2008, G.4.1 note 3) and left infinite.
/// source: JCGM 100:2008, eq. (16).
[[nodiscard]] CombinedUncertainty combined(const MeasurementModel& model, std::span<const UncertainInput> inputs,
                                           const Eigen::MatrixXd& correlation);

/// Effective degrees of freedom of independent contributions (JCGM 100:2008, eq. G.2b). As many contributions as dof.
[[nodiscard]] double effective_dof(std::span<const double> contributions, std::span<const double> dof);

/// Factor k by which u is multiplied for an interval that holds the value with probability `coverage`, from Student's
/// distribution with dof rounded down (JCGM 100:2008, G.4.1). Assumes 0 < coverage < 1, dof >= 1.
[[nodiscard]] double coverage_factor(double coverage, double dof);

/// Probability that a value measured as `value` with standard uncertainty `u` lies between two limits (either may be
/// infinite), for a normal distribution and no prior knowledge (JCGM 106:2012, 7.3 and 7.4).
[[nodiscard]] double conformity_probability(double value, double u, double lower, double upper);

}  // namespace glintline
