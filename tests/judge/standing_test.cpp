#include "judge/standing.h"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "math/statistics.h"

namespace glintline {
namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();

Quantity with_u(double value, double u) { return {value, {{Source::kEdge, u}}}; }

// ISO 14253-1, one-sided guard band at 5 % (from memory): 1.645 u.
TEST(Standing, GuardFactorIsTheOneSidedFivePerCentQuantile) {
  EXPECT_NEAR(kGuardFactor, normal_quantile(0.95), 5e-4);  // three decimals
  EXPECT_NEAR(kGuardFactor / kCoverage, 0.82, 0.005);      // of u95
}

TEST(Standing, IsUndecidedInsideTheGuardBandAlone) {
  EXPECT_EQ(against_most(with_u(0.80, 0.05), 0.89), Standing::kWithin);
  EXPECT_EQ(against_most(with_u(0.81, 0.05), 0.89), Standing::kUndecided);
  EXPECT_EQ(against_most(with_u(0.97, 0.05), 0.89), Standing::kUndecided);
  EXPECT_EQ(against_most(with_u(0.98, 0.05), 0.89), Standing::kBeyond);
  EXPECT_EQ(against_most({0.89, {}}, 0.89), Standing::kWithin);
}

TEST(Standing, LeastMirrorsMost) {
  for (double value = -1; value <= 1; value += 0.01) {
    EXPECT_EQ(against_most(with_u(value, 0.1), 0.25), against_least(with_u(-value, 0.1), -0.25)) << value;
  }
}

TEST(Standing, ThatIsNoNumberIsNeverWithinNorBeyond) {
  for (const auto against : {against_most, against_least}) {
    EXPECT_EQ(against(with_u(kNan, 0.01), 0.89), Standing::kUndecided);
    EXPECT_EQ(against(with_u(0.5, kNan), 0.89), Standing::kUndecided);
    EXPECT_EQ(against(with_u(9, kNan), 0.89), Standing::kUndecided);
    EXPECT_EQ(against(with_u(0.5, 0.01), kNan), Standing::kUndecided);
  }
  EXPECT_EQ(against_most(with_u(0.5, kInfinity), 0.89), Standing::kUndecided);
}

TEST(Standing, NeverGetsSaferWithMore) {
  for (const double u : {0.0, 0.01, 0.1}) {
    const auto rank = [&](double value) {
      switch (against_most(with_u(value, u), 0.89)) {
        case Standing::kWithin:
          return 0;
        case Standing::kUndecided:
          return 1;
        default:
          return 2;
      }
    };
    for (double value = 0; value < 2; value += 0.003) EXPECT_LE(rank(value), rank(value + 0.003)) << value;
  }
}

// A true value right at the limit is the worst case: each side may be called wrongly in 5 % of measurements.
TEST(Standing, IsWrongInFivePerCentAtTheMost) {
  std::mt19937 random(7);
  constexpr double kU = 0.03;
  std::normal_distribution<double> noise(0, kU);
  constexpr int kRuns = 40000;
  for (const double truth : {0.89, 0.88, 0.90}) {
    int within = 0;
    int beyond = 0;
    for (int i = 0; i < kRuns; ++i) {
      const Standing s = against_most(with_u(truth + noise(random), kU), 0.89);
      within += s == Standing::kWithin;
      beyond += s == Standing::kBeyond;
    }
    constexpr double kMost = 0.05 + 3 * 0.0011;  // three sigma of 40000 runs
    if (truth >= 0.89) {
      EXPECT_LE(static_cast<double>(within) / kRuns, kMost) << truth;
    }
    if (truth <= 0.89) {
      EXPECT_LE(static_cast<double>(beyond) / kRuns, kMost) << truth;
    }
    EXPECT_GT(within + beyond, kRuns / 50) << "a guard band that never decides would pass too";
  }
}

}  // namespace
}  // namespace glintline
