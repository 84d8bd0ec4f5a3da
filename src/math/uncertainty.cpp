#include "math/uncertainty.h"

#include <cassert>
#include <cmath>
#include <vector>

#include "math/statistics.h"

namespace glintline {

namespace {

Eigen::VectorXd values_of(std::span<const UncertainInput> inputs) {
  Eigen::VectorXd x(static_cast<Eigen::Index>(inputs.size()));
  for (std::size_t i = 0; i < inputs.size(); ++i) x[static_cast<Eigen::Index>(i)] = inputs[i].value;
  return x;
}

Eigen::VectorXd contributions_of(const MeasurementModel& model, std::span<const UncertainInput> inputs) {
  const Eigen::VectorXd x = values_of(inputs);
  Eigen::VectorXd z(x.size());
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    const double u = inputs[static_cast<std::size_t>(i)].u;
    Eigen::VectorXd above = x;
    Eigen::VectorXd below = x;
    above[i] += u;
    below[i] -= u;
    z[i] = 0.5 * (model(above) - model(below));
  }
  return z;
}

}  // namespace

CombinedUncertainty combined(const MeasurementModel& model, std::span<const UncertainInput> inputs) {
  CombinedUncertainty result;
  result.value = model(values_of(inputs));
  result.contributions = contributions_of(model, inputs);
  result.u = result.contributions.norm();
  std::vector<double> dof;
  for (const UncertainInput& input : inputs) dof.push_back(input.dof);
  result.dof = effective_dof({result.contributions.data(), inputs.size()}, dof);
  return result;
}

CombinedUncertainty combined(const MeasurementModel& model, std::span<const UncertainInput> inputs,
                             const Eigen::MatrixXd& correlation) {
  assert(correlation.rows() == static_cast<Eigen::Index>(inputs.size()) && correlation.rows() == correlation.cols());
  CombinedUncertainty result;
  result.value = model(values_of(inputs));
  result.contributions = contributions_of(model, inputs);
  result.u = std::sqrt(result.contributions.dot(correlation * result.contributions));
  return result;
}

double effective_dof(std::span<const double> contributions, std::span<const double> dof) {
  assert(contributions.size() == dof.size());
  double variance = 0;
  double sum = 0;
  for (std::size_t i = 0; i < dof.size(); ++i) {
    const double square = contributions[i] * contributions[i];
    variance += square;
    sum += square * square / dof[i];
  }
  return sum > 0 ? variance * variance / sum : std::numeric_limits<double>::infinity();
}

double coverage_factor(double coverage, double dof) { return student_quantile(0.5 * (1 + coverage), std::floor(dof)); }

double conformity_probability(double value, double u, double lower, double upper) {
  return normal_probability((upper - value) / u) - normal_probability((lower - value) / u);
}

}  // namespace glintline
