#include "judge/traced_value.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace glintline {
namespace {

constexpr double kExact = 1e-12;

ErrorOrigin at(std::size_t photo, std::size_t cutter, std::optional<Hand> hand = Hand::kLeft) {
  ErrorOrigin origin;
  origin.photo = photo;
  origin.cutter = cutter;
  origin.hand = hand;
  return origin;
}

Quantity length(double value) {
  return {value, {{Source::kEdge, 0.03}, {Source::kPose, 0.04}, {Source::kPrint, 0.02}, {Source::kStandOff, 0.05}}};
}

// JCGM 100:2008, F.1.2.3, example: resistors compared with one standard; a sum of n adds linearly, a difference of two
// equal ones is free of it. Here the shared pose stands for the standard.
TEST(TracedValue, AddsSharedErrorsLinearlyAndOwnOnesInSquares) {
  const TracedValue a = traced(length(8), at(0, 0));
  const TracedValue b = traced(length(8), at(0, 1));
  TracedValue sum;
  sum.add(1, a);
  sum.add(1, b);
  EXPECT_NEAR(sum.u(), std::sqrt(2 * 0.03 * 0.03 + 4 * (0.04 * 0.04 + 0.02 * 0.02 + 0.05 * 0.05)), kExact);
  EXPECT_NEAR(difference(a, b).u(), std::sqrt(2) * 0.03, kExact);
  EXPECT_NEAR(difference(a, a).u(), 0, kExact);
}

TEST(TracedValue, SharesThePoseWithinAPhotographAndThePrintBeyondIt) {
  const TracedValue a = traced(length(8), at(0, 0));
  const TracedValue b = traced(length(8), at(1, 0));
  EXPECT_NEAR(difference(a, b).u(), std::sqrt(2 * (0.03 * 0.03 + 0.04 * 0.04)), kExact);
  ErrorOrigin other = at(1, 0);
  other.print = 1;
  EXPECT_NEAR(difference(a, traced(length(8), other)).u(), std::sqrt(2) * length(8).u(), kExact);
}

TEST(TracedValue, DoesNotLetTheTwoHandsShareTheFaceTheyShow) {
  const TracedValue left = traced(length(8), at(0, 0));
  const TracedValue right = traced(length(8), at(0, 1, Hand::kRight));
  EXPECT_NEAR(difference(left, right).u(), std::sqrt(2 * (0.03 * 0.03 + 0.05 * 0.05)), kExact);
}

TEST(TracedValue, KeepsTheBudgetBySource) {
  const Quantity flat = traced(length(8), at(0, 0)).quantity();
  EXPECT_EQ(flat.budget.size(), 4U);
  EXPECT_NEAR(flat.u(), length(8).u(), kExact);
  EXPECT_EQ(flat.value, 8);
}

// Drawn at random: u of the mean and of the difference cover what really happens (2 sigma, 95 % of 4000 cases; three
// standard deviations of that share are 1 %).
TEST(TracedValue, HoldsInRandomTrials) {
  std::mt19937 random(20261126);
  std::normal_distribution<double> normal;
  constexpr int kTrials = 4000;
  int mean_inside = 0, difference_inside = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const double pose = 0.04 * normal(random), print = 0.02 * normal(random), stand_off = 0.05 * normal(random);
    std::vector<TracedValue> seen;
    for (std::size_t i = 0; i < 6; ++i) {
      seen.push_back(traced(length(8 + 0.03 * normal(random) + pose + print + stand_off), at(0, i)));
    }
    const TracedValue mean = traced_mean(seen);
    mean_inside += std::abs(mean.value - 8) <= 2 * mean.u();
    const TracedValue apart = difference(seen[0], seen[5]);
    difference_inside += std::abs(apart.value) <= 2 * apart.u();
  }
  EXPECT_NEAR(mean_inside / double(kTrials), 0.9545, 0.011);
  EXPECT_NEAR(difference_inside / double(kTrials), 0.9545, 0.011);
}

}  // namespace
}  // namespace glintline
