#pragma once

#include <span>
#include <vector>

namespace glintline {

/// Ratio of a normal distribution's standard deviation to its median absolute deviation, 1 / Phi^-1(3/4).
inline constexpr double kMadToSigma = 1.4826022185056018;

/// Mean of `values`; NaN for none.
[[nodiscard]] double mean(std::span<const double> values);

/// Standard deviation of a sample, n - 1 in the denominator (JCGM 100:2008, 4.2.2); NaN for fewer than two values.
[[nodiscard]] double standard_deviation(std::span<const double> values);

/// Middle value, mean of the two middle ones for an even count; NaN for none. Assumes no NaN among the values.
[[nodiscard]] double median(std::vector<double> values);

/// The value below which the share `share` (0 to 1) of `values` lies, linear between order statistics (definition 7 of
/// Hyndman & Fan, Sample quantiles in statistical packages, The American Statistician 50, 1996). NaN for none.
[[nodiscard]] double percentile(std::vector<double> values, double share);

/// Standard deviation estimated from the median absolute deviation about the median; NaN for none. Half of the values
/// may be anything.
[[nodiscard]] double mad_sigma(std::vector<double> values);

/// A mean of values of different quality.
struct WeightedMean {
  double value = 0;
  double u = 0;             ///< standard uncertainty if the inputs' are right: 1 / sqrt(sum 1/u²)
  double chi2_per_dof = 0;  ///< over 1 the values disagree more than their uncertainties allow; 0 for a single value
};

/// Mean of `values` weighted by 1/u². Assumes equally many values and uncertainties, at least one, all u > 0, no
/// correlation (JCGM 100:2008, H.5 note on weighted means).
[[nodiscard]] WeightedMean weighted_mean(std::span<const double> values, std::span<const double> u);

/// Share of a standard normal distribution below `z`.
[[nodiscard]] double normal_probability(double z);

/// Inverse of normal_probability. Assumes 0 < p < 1.
[[nodiscard]] double normal_quantile(double p);

/// What a sum of squares of so many standard normal values stays below with probability p. Assumes 0 < p < 1, dof > 0.
[[nodiscard]] double chi2_quantile(double p, double dof);

/// Value below which the share `p` of an even mixture of normal distributions lies. Assumes as many means as standard
/// deviations, at least one, all deviations > 0, 0 < p < 1.
[[nodiscard]] double mixture_quantile(std::span<const double> means, std::span<const double> deviations, double p);

/// Value below which the share `p` of Student's distribution with `dof` degrees of freedom lies; normal for infinite
/// dof. Assumes 0 < p < 1, dof > 0.
[[nodiscard]] double student_quantile(double p, double dof);

/// By how much neighbouring values' correlation inflates the variance of a mean over them: 1 + 2 sum rho_k over the
/// initial positive sequence of pair sums (Geyer, Practical Markov chain Monte Carlo, Statistical Science 7, 1992).
/// `ordered` must stand in the order of the outline, with its mean already about zero. Between 1 and n; 1 for fewer
/// than 8 values.
[[nodiscard]] double correlation_inflation(std::span<const double> ordered);

}  // namespace glintline
