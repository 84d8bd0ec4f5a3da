#include "math/statistics.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

namespace glintline {
namespace {

constexpr double kExact = 1e-12;  // algebra in double precision
constexpr double kInfinity = std::numeric_limits<double>::infinity();

TEST(Statistics, OfNothingAreNotANumber) {
  EXPECT_TRUE(std::isnan(mean({})));
  EXPECT_TRUE(std::isnan(median({})));
  EXPECT_TRUE(std::isnan(percentile({}, 0.9)));
  EXPECT_TRUE(std::isnan(mad_sigma({})));
  EXPECT_TRUE(std::isnan(standard_deviation(std::vector<double>{1.0})));
}

TEST(Statistics, MedianTakesTheMiddleOrTheMeanOfTwo) {
  EXPECT_EQ(median({3, 1, 2}), 2);
  EXPECT_EQ(median({4, 1, 3, 2}), 2.5);
  EXPECT_EQ(median({7}), 7);
}

// JCGM 100:2008, 4.4.3, table 1, twenty readings of a temperature: mean 100.145, s 1.489 degrees C.
TEST(Statistics, MeanAndDeviationOfTheGumsTwentyReadings) {
  const std::vector<double> t{96.90,  98.18,  98.25,  98.61,  99.03,  99.49,  99.56,  99.74,  99.89,  100.07,
                              100.33, 100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72};
  EXPECT_NEAR(mean(t), 100.145, 5e-4);  // the GUM's own rounding
  EXPECT_NEAR(standard_deviation(t), 1.489, 5e-4);
}

// Definition 7 of Hyndman & Fan: position 1 + (n - 1) p; by hand.
TEST(Statistics, PercentileIsLinearBetweenOrderStatistics) {
  const std::vector<double> values{15, 50, 20, 40, 35};
  EXPECT_NEAR(percentile(values, 0.4), 29, kExact);
  EXPECT_EQ(percentile(values, 0), 15);
  EXPECT_EQ(percentile(values, 1), 50);
  EXPECT_EQ(percentile(values, 0.5), median(values));
}

TEST(Statistics, MadSigmaEstimatesANormalDeviationAndShrugsOffAThirdOfStrays) {
  std::mt19937 random(11);
  std::normal_distribution<double> noise(5, 0.2);
  std::vector<double> values(20000);
  for (double& v : values) v = noise(random);
  // Its own standard deviation is about 1.17 sigma / sqrt(n) = 0.8 % here; three of them.
  EXPECT_NEAR(mad_sigma(values), 0.2, 0.2 * 0.025);
  for (std::size_t i = 0; i < values.size() / 3; ++i) values[i] = 100;
  EXPECT_LT(mad_sigma(values), 0.5);
}

TEST(Statistics, MadConstantIsTheInverseOfTheNormalQuartile) {
  EXPECT_NEAR(kMadToSigma * normal_quantile(0.75), 1, kExact);
}

TEST(Statistics, WeightedMeanLeansTowardsTheBetterValue) {
  const std::vector<double> values{10, 12};
  const std::vector<double> u{1, 2};
  const WeightedMean m = weighted_mean(values, u);
  EXPECT_NEAR(m.value, (10 + 12 / 4.0) / 1.25, kExact);
  EXPECT_NEAR(m.u, 1 / std::sqrt(1.25), kExact);
  EXPECT_NEAR(m.chi2_per_dof, 0.16 + 0.64, kExact);
}

// JCGM 100:2008, table G.2.
TEST(Statistics, StudentQuantilesAreTheGumsTable) {
  constexpr double kTabled = 0.005;  // two decimals
  EXPECT_NEAR(student_quantile(0.975, 1), 12.71, kTabled);
  EXPECT_NEAR(student_quantile(0.975, 16), 2.12, kTabled);
  EXPECT_NEAR(student_quantile(0.995, 16), 2.92, kTabled);
  EXPECT_NEAR(student_quantile(0.975, 50), 2.01, kTabled);
  EXPECT_NEAR(student_quantile(0.975, kInfinity), 1.960, 5e-4);
}

TEST(Statistics, NormalQuantileUndoesNormalProbability) {
  for (const double p : {0.001, 0.05, 0.5, 0.95, 0.999}) EXPECT_NEAR(normal_probability(normal_quantile(p)), p, kExact);
  EXPECT_NEAR(normal_quantile(0.95), 1.645, 5e-4);  // ISO 14253-1's one-sided factor
}

// Table 1.3.6.7.4 of the NIST/SEMATECH e-Handbook of Statistical Methods.
TEST(Statistics, KnowsTheUpperTailOfChiSquared) {
  EXPECT_NEAR(chi2_quantile(0.99, 1), 6.635, 5e-4);
  EXPECT_NEAR(chi2_quantile(0.99, 2), 9.210, 5e-4);
  EXPECT_NEAR(chi2_quantile(0.95, 10), 18.307, 5e-4);
}

TEST(Statistics, MixtureQuantilesAreThoseOfItsParts) {
  const std::vector<double> alike{5, 5, 5}, wide{2, 2, 2};
  EXPECT_NEAR(mixture_quantile(alike, wide, 0.9), 5 + 2 * normal_quantile(0.9), kExact);
  // Two parts far from each other: three quarters of both lie below the upper one's middle.
  EXPECT_NEAR(mixture_quantile(std::vector<double>{0, 100}, std::vector<double>{1, 3}, 0.75), 100, kExact);
}

// A normal value known to u only, of normal things: their mixture is normal with the sum of the variances.
TEST(Statistics, AMixtureOverNormalMeansHasTheSumOfTheVariances) {
  constexpr double kBetween = 3, kU = 4;
  std::vector<double> means;
  for (int k = 0; k < 2000; ++k) means.push_back(60 + kBetween * normal_quantile((k + 0.5) / 2000));
  const std::vector<double> u(means.size(), kU);
  for (const double p : {0.1, 0.5, 0.9}) EXPECT_NEAR(mixture_quantile(means, u, p), 60 + 5 * normal_quantile(p), 0.005);
}

// A moving average over m independent values has the variance of its mean inflated by m (for n much longer than m).
TEST(Statistics, CorrelationInflatesTheVarianceOfAMean) {
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0, 1);
  constexpr int kWindow = 5;
  std::vector<double> white(20000 + kWindow);
  for (double& v : white) v = noise(random);
  std::vector<double> smooth(20000);
  for (std::size_t i = 0; i < smooth.size(); ++i) {
    for (int k = 0; k < kWindow; ++k) smooth[i] += white[i + k] / kWindow;
  }
  EXPECT_NEAR(correlation_inflation(smooth), kWindow, 0.15 * kWindow);  // 3 sigma of the estimate
  EXPECT_NEAR(correlation_inflation(white), 1, 0.1);
  EXPECT_EQ(correlation_inflation(std::vector<double>(100, 0.0)), 1);
}

}  // namespace
}  // namespace glintline
