#include "trace/plan_rim.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace glintline {
namespace {

constexpr int kCrest = 30;
constexpr int kSamples = 75;

/// Light across a rim: steps of given heights at given places, blurred; a sample is half a pixel.
struct Rim {
  double second_at = 0;  ///< samples outside the first step
  double second = 0;     ///< its height against the first's
  double blur = 2;
  double noise = 0;
};

/// Change per sample as tracing takes it: differences over four samples, strength without sign.
Eigen::VectorXd change_of(const Rim& rim, unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> normal(0, 1);
  const auto light = [&](double k) {
    const auto step = [&](double at) { return 0.5 * std::erfc((k - at) / rim.blur / std::sqrt(2.0)); };
    return step(kCrest) + rim.second * step(kCrest + rim.second_at);
  };
  Eigen::VectorXd out(kSamples);
  for (int k = 0; k < kSamples; ++k) {
    out[k] = std::abs((light(k - 2) - light(k + 2)) / 4) + 0.004 + std::abs(rim.noise * normal(random));
  }
  return out;
}

// Place of the rim's outline within 0.6 samples (0.3 px), also where it is only a shoulder of the first step.
TEST(PlanRim, FindsTheOutlineBeyondTheStrongestStep) {
  for (const double second : {0.15, 0.3, 0.6}) {
    for (const double at : {6.0, 9.0, 14.0}) {
      for (const double blur : {1.2, 2.0, 3.0}) {
        const auto apart = second_step(change_of({at, second, blur, 0.0005}, 7), kCrest);
        ASSERT_TRUE(apart) << second << " at " << at << " blur " << blur;
        EXPECT_FALSE(apart->doubtful) << second << " at " << at << " blur " << blur;
        EXPECT_NEAR(apart->apart, at, 0.6) << second << " at " << at << " blur " << blur;
      }
    }
  }
}

// A second step beside which the light changes in other ways too, as over a rim's grinding marks: told as possible
// only.
TEST(PlanRim, DoubtsASecondStepAmongOtherChanges) {
  for (const double at : {7.0, 9.0, 11.0}) {
    Eigen::VectorXd change = change_of({at, 0.4, 1.5, 0.0005}, 7);
    for (int k = kCrest - 1; k < kCrest + 12; ++k) change[k] += 0.045 * std::sin(1.7 * k);
    const auto step = second_step(change, kCrest);
    ASSERT_TRUE(step) << at;
    EXPECT_TRUE(step->doubtful) << at;
    EXPECT_NEAR(step->apart, at, 1.5) << at;
  }
}

TEST(PlanRim, TakesOneBlurredStepForOne) {
  for (const double blur : {0.9, 1.5, 2.5, 3.5}) {
    for (unsigned seed = 0; seed < 20; ++seed) {
      EXPECT_FALSE(second_step(change_of({0, 0, blur, 0.002}, seed), kCrest)) << blur << " seed " << seed;
    }
  }
}

TEST(PlanRim, SaysNothingOfAStepWithoutRoomBesideIt) {
  EXPECT_FALSE(second_step(Eigen::VectorXd::Constant(40, 0.01), 30));
  EXPECT_FALSE(second_step(Eigen::VectorXd::Zero(kSamples), kCrest));
}

}  // namespace
}  // namespace glintline
