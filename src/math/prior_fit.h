#pragma once

#include <Eigen/Dense>
#include <cmath>
#include <limits>
#include <vector>

#include "math/robust.h"
#include "math/statistics.h"

namespace glintline {

/// Observations b = A v + noise for a fit of N unknowns.
template <int N>
struct Observations {
  std::vector<Eigen::Matrix<double, N, 1>> rows;  ///< of A
  std::vector<double> values;                     ///< b

  void add(const Eigen::Matrix<double, N, 1>& row, double value) {
    rows.push_back(row);
    values.push_back(value);
  }
  [[nodiscard]] double residual(std::size_t i, const Eigen::Matrix<double, N, 1>& v) const {
    return values[i] - rows[i].dot(v);
  }
};

/// What is known of the unknowns beforehand: mean and standard uncertainty of each, independent. An infinite
/// uncertainty says nothing.
template <int N>
struct Prior {
  Eigen::Matrix<double, N, 1> mean = Eigen::Matrix<double, N, 1>::Zero();
  Eigen::Matrix<double, N, 1> u = Eigen::Matrix<double, N, 1>::Constant(std::numeric_limits<double>::infinity());
};

struct PriorFitOptions {
  Loss loss = Loss::kTukey;
  double least_sigma = 0;  ///< noise below which observations are not believed
  double correlated = 1;   ///< so many neighbouring observations count as one
  int rounds = 10;
};

template <int N>
struct PriorFit {
  Eigen::Matrix<double, N, 1> value = Eigen::Matrix<double, N, 1>::Zero();
  Eigen::Matrix<double, N, N> covariance = Eigen::Matrix<double, N, N>::Identity();
  double sigma = 0;             ///< noise of the observations
  std::vector<double> weights;  ///< robust weight of each, 0 to 1
};

/// Robust linear least squares with prior knowledge: iterated weights on the observations, 1/u² on the priors; the
/// posterior of a linear Gaussian model with the observations' variance read from their residuals' MAD (Gelman et al.,
/// Bayesian Data Analysis, 3rd ed., 14.8; robust weights as in fit_line).
/// in: `start`, near enough for Loss::kTukey. Assumes at least one observation; unknowns that neither observations nor
/// priors tell come out with an enormous covariance.
template <int N>
[[nodiscard]] PriorFit<N> fit_with_prior(const Observations<N>& observed, const Prior<N>& prior,
                                         const Eigen::Matrix<double, N, 1>& start, const PriorFitOptions& options) {
  using Vector = Eigen::Matrix<double, N, 1>;
  using Matrix = Eigen::Matrix<double, N, N>;
  constexpr double kNothing = 1e-12;  // keeps what nothing tells invertible
  PriorFit<N> fit;
  fit.value = start;
  fit.weights.assign(observed.values.size(), 1.0);
  std::vector<double> residuals(observed.values.size());
  const Vector precision = prior.u.unaryExpr([](double u) { return std::isfinite(u) ? 1 / (u * u) : kNothing; });
  for (int round = 0; round < options.rounds; ++round) {
    for (std::size_t i = 0; i < residuals.size(); ++i) residuals[i] = observed.residual(i, fit.value);
    fit.sigma = std::max(options.least_sigma, residual_scale(residuals, N));
    if (!(fit.sigma > 0)) fit.sigma = std::numeric_limits<double>::min();
    Matrix normal = precision.asDiagonal();
    Vector right = precision.cwiseProduct(prior.mean);
    const double each = 1 / (fit.sigma * fit.sigma * options.correlated);
    for (std::size_t i = 0; i < residuals.size(); ++i) {
      fit.weights[i] = robust_weight(options.loss, residuals[i] / fit.sigma);
      const Vector weighted = fit.weights[i] * each * observed.rows[i];
      normal.noalias() += weighted * observed.rows[i].transpose();
      right += weighted * observed.values[i];
    }
    fit.covariance = normal.inverse();
    fit.value = fit.covariance * right;
  }
  return fit;
}

}  // namespace glintline
