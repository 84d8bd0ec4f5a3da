#include "math/statistics.h"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>

namespace glintline {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

}  // namespace

double mean(std::span<const double> values) {
  if (values.empty()) return kNan;
  return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

double standard_deviation(std::span<const double> values) {
  if (values.size() < 2) return kNan;
  const double centre = mean(values);
  double sum = 0;
  for (const double v : values) sum += (v - centre) * (v - centre);
  return std::sqrt(sum / static_cast<double>(values.size() - 1));
}

double median(std::vector<double> values) {
  if (values.empty()) return kNan;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  if (values.size() % 2 == 1) return *middle;
  return 0.5 * (*middle + *std::max_element(values.begin(), middle));
}

double percentile(std::vector<double> values, double share) {
  if (values.empty()) return kNan;
  assert(share >= 0 && share <= 1);
  const double at = share * static_cast<double>(values.size() - 1);
  const auto below = static_cast<std::ptrdiff_t>(at);
  const auto lower = values.begin() + below;
  std::nth_element(values.begin(), lower, values.end());
  const double part = at - static_cast<double>(below);
  if (part == 0) return *lower;
  return *lower + part * (*std::min_element(lower + 1, values.end()) - *lower);
}

double mad_sigma(std::vector<double> values) {
  const double centre = median(values);
  for (double& v : values) v = std::abs(v - centre);
  return kMadToSigma * median(std::move(values));
}

WeightedMean weighted_mean(std::span<const double> values, std::span<const double> u) {
  assert(!values.empty() && values.size() == u.size());
  double weight_sum = 0;
  double sum = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double weight = 1 / (u[i] * u[i]);
    weight_sum += weight;
    sum += weight * values[i];
  }
  WeightedMean result{sum / weight_sum, 1 / std::sqrt(weight_sum), 0};
  if (values.size() < 2) return result;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double z = (values[i] - result.value) / u[i];
    result.chi2_per_dof += z * z / static_cast<double>(values.size() - 1);
  }
  return result;
}

double normal_probability(double z) { return boost::math::cdf(boost::math::normal(), z); }

double normal_quantile(double p) { return boost::math::quantile(boost::math::normal(), p); }

double chi2_quantile(double p, double dof) { return boost::math::quantile(boost::math::chi_squared(dof), p); }

double mixture_quantile(std::span<const double> means, std::span<const double> deviations, double p) {
  const double z = normal_quantile(p);
  // A mixture's quantile lies between those of its parts.
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (std::size_t i = 0; i < means.size(); ++i) {
    low = std::min(low, means[i] + z * deviations[i]);
    high = std::max(high, means[i] + z * deviations[i]);
  }
  constexpr int kHalvings = 50;
  for (int k = 0; k < kHalvings; ++k) {
    const double middle = (low + high) / 2;
    double below = 0;
    for (std::size_t i = 0; i < means.size(); ++i) {
      below += normal_probability((middle - means[i]) / deviations[i]) / static_cast<double>(means.size());
    }
    (below < p ? low : high) = middle;
  }
  return (low + high) / 2;
}

double student_quantile(double p, double dof) {
  if (std::isinf(dof)) return normal_quantile(p);
  return boost::math::quantile(boost::math::students_t(dof), p);
}

double correlation_inflation(std::span<const double> ordered) {
  const std::size_t n = ordered.size();
  if (n < 8) return 1;
  const auto covariance = [&](std::size_t lag) {
    double sum = 0;
    for (std::size_t i = 0; i + lag < n; ++i) sum += ordered[i] * ordered[i + lag];
    return sum;
  };
  const double variance = covariance(0);
  if (!(variance > 0)) return 1;
  double inflation = -1;
  for (std::size_t lag = 0; lag + 1 < n / 2; lag += 2) {
    const double pair = (covariance(lag) + covariance(lag + 1)) / variance;
    if (!(pair > 0)) break;
    inflation += 2 * pair;
  }
  return std::clamp(inflation, 1.0, static_cast<double>(n));
}

}  // namespace glintline
