#include "math/uncertainty.h"

#include <gtest/gtest.h>

#include <Eigen/LU>
#include <cmath>
#include <random>
#include <vector>

namespace glintline {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// JCGM 100:2008, H.1: calibration of a 50 mm end gauge. Lengths in mm, temperatures in degrees C.
// Inputs: length of the standard, difference found, expansion coefficient of the standard, deviation from 20 degrees,
// differences of coefficient and of temperature.
CombinedUncertainty end_gauge() {
  const std::vector<UncertainInput> inputs{{.value = 50.000623, .u = 25e-6, .dof = 18},
                                           {.value = 215e-6, .u = 9.7e-6, .dof = 25.6},
                                           {.value = 11.5e-6, .u = 1.2e-6},
                                           {.value = -0.1, .u = 0.41},
                                           {.value = 0, .u = 0.58e-6, .dof = 50},
                                           {.value = 0, .u = 0.029, .dof = 2}};
  return combined([](const Eigen::VectorXd& x) { return x[0] + x[1] - x[0] * (x[4] * x[3] + x[2] * x[5]); }, inputs);
}

TEST(CombinedUncertainty, OfTheGumsEndGauge) {
  const CombinedUncertainty l = end_gauge();
  EXPECT_NEAR(l.value, 50.000838, 5e-7);  // digits printed in H.1.7
  EXPECT_NEAR(l.u, 31.7e-6, 0.05e-6);
  EXPECT_EQ(std::floor(l.dof), 16);
  EXPECT_NEAR(coverage_factor(0.99, l.dof) * l.u, 93e-6, 0.5e-6);
}

// JCGM 100:2008, H.2: resistance from simultaneously read voltage, current and phase; table H.3 and H.4.
TEST(CombinedUncertainty, OfTheGumsCorrelatedResistance) {
  const std::vector<UncertainInput> inputs{
      {.value = 4.9990, .u = 0.0032}, {.value = 19.6610e-3, .u = 0.0095e-3}, {.value = 1.04446, .u = 0.00075}};
  Eigen::Matrix3d correlation;
  correlation << 1, -0.36, 0.86, -0.36, 1, -0.65, 0.86, -0.65, 1;
  const auto resistance = [](const Eigen::VectorXd& x) { return x[0] / x[1] * std::cos(x[2]); };
  const CombinedUncertainty r = combined(resistance, inputs, correlation);
  EXPECT_NEAR(r.value, 127.732, 5e-4);
  EXPECT_NEAR(r.u, 0.071, 1.5e-3);  // the inputs' two digits and the coefficients' two decimals allow no more
  EXPECT_GT(combined(resistance, inputs).u, 2 * r.u);  // why the correlation matters there
}

TEST(CombinedUncertainty, AgreesWithMonteCarlo) {
  const std::vector<UncertainInput> inputs{{.value = 5.0, .u = 0.1}, {.value = 0.3, .u = 0.02}};
  const auto model = [](const Eigen::VectorXd& x) { return x[0] * std::sin(x[1]); };
  std::mt19937 random(8);
  std::normal_distribution<double> normal(0, 1);
  constexpr int kRuns = 20000;
  double sum = 0;
  double squares = 0;
  for (int i = 0; i < kRuns; ++i) {
    const double y = model(Eigen::Vector2d(5.0 + 0.1 * normal(random), 0.3 + 0.02 * normal(random)));
    sum += y;
    squares += y * y;
  }
  const double sd = std::sqrt(squares / kRuns - sum * sum / kRuns / kRuns);
  EXPECT_NEAR(combined(model, inputs).u, sd, 0.015 * sd);  // 3 sigma of the spread of 20000 runs
}

// JCGM 100:2008, table G.2.
TEST(CoverageFactor, IsTheGumsTableWithDofRoundedDown) {
  constexpr double kTabled = 0.005;
  EXPECT_NEAR(coverage_factor(0.95, 16), 2.12, kTabled);
  EXPECT_NEAR(coverage_factor(0.99, 16), 2.92, kTabled);
  EXPECT_EQ(coverage_factor(0.95, 16.9), coverage_factor(0.95, 16));
  EXPECT_NEAR(coverage_factor(0.9545, kInfinity), 2.0, 1e-3);
}

// JCGM 106:2012, 7.4: inputs as printed there, result computed.
TEST(ConformityProbability, OfTheIntervalExample) {
  EXPECT_NEAR(conformity_probability(13.6, 1.8, 12.5, 16.3), 0.663, 5e-4);
}

// JCGM 106:2012, breakdown voltage of a Zener diode with one limit; values from memory, result computed.
TEST(ConformityProbability, OfTheZenerExample) {
  EXPECT_NEAR(conformity_probability(-5.47, 0.05, -kInfinity, -5.40), 0.919, 5e-4);
}

TEST(EffectiveDof, IsInfiniteWhereEveryInputsIs) {
  EXPECT_EQ(effective_dof(std::vector<double>{1, 2}, std::vector<double>{kInfinity, kInfinity}), kInfinity);
}

}  // namespace
}  // namespace glintline
