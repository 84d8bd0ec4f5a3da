#include "measure/row_agreement.h"

#include <gtest/gtest.h>

#include <cmath>

namespace glintline {
namespace {

// Stampings of one tool differ by that much; it adds to every rivet's uncertainty.
constexpr double kStampedMm = 0.04;

double variance(const RearPlace& p) { return p.u * p.u + p.u_rivet * p.u_rivet + kStampedMm * kStampedMm; }

// Independent values: their weighted mean and its variance (Bevington & Robinson, Data Reduction and Error Analysis,
// 3rd ed., eqs. 4.17 and 4.19; from memory), seen here in a fourth cutter's frame, which shows no rear end.
TEST(RowAgreement, IsTheWeightedMeanWhereNothingIsShared) {
  const std::vector<RearPlace> places{
      {-3.20, 0.05, 0.03, {}}, {-3.26, 0.10, 0.03, {}}, {-3.31, 0.2, 0.03, {}}, {{}, 0, 0.06, {}}};
  const auto row = agreed_rear_ends(places);
  ASSERT_EQ(row.size(), 4U);
  double weights = 0;
  double sum = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    weights += 1 / variance(places[i]);
    sum += *places[i].x / variance(places[i]);
  }
  EXPECT_NEAR(row[3].rear_x(), sum / weights, 1e-9);
  EXPECT_NEAR(row[3].covariance(0, 0), 1 / weights + variance(places[3]), 1e-9);
}

// A rivet whose middle is told badly moves its cutter's corner and rear end alike: in that frame the own outline
// stands.
TEST(RowAgreement, KeepsTheOwnOutlineWhereTheRivetIsInDoubt) {
  const auto row = agreed_rear_ends(std::vector<RearPlace>{{-3.0, 0.05, 0.05, {}}, {-2.8, 0.05, 1.0, {}}});
  ASSERT_EQ(row.size(), 2U);
  EXPECT_NEAR(row[1].rear_x(), -2.8, 1e-3);
  EXPECT_NEAR(std::sqrt(row[1].covariance(0, 0)), 0.05, 1e-3);
}

// One influence that moves one cutter's place only: eliminated by hand, s = -c d / (c² + v1 + v2) with d the places'
// difference, and its variance 1 - c² / (c² + v1 + v2) (normal distributions, conditioned).
TEST(RowAgreement, LearnsTheInfluenceThatPartsThem) {
  const double c = 0.3;
  const std::vector<RearPlace> places{{-3.0, 0.05, 0.05, {0.0}}, {-2.8, 0.05, 0.05, {c}}};
  const double v = 2 * variance(places[0]);
  const auto row = agreed_rear_ends(places);
  ASSERT_EQ(row.size(), 2U);
  for (const RowAgreement& own : row) {
    EXPECT_NEAR(own.mean[0], -c * 0.2 / (c * c + v), 1e-9);
    EXPECT_NEAR(own.covariance(0, 0), 1 - c * c / (c * c + v), 1e-9);
  }
}

// What moves all places alike is not told from where they are.
TEST(RowAgreement, LearnsNothingOfWhatMovesAllAlike) {
  const auto row = agreed_rear_ends(std::vector<RearPlace>{{-3.0, 0.05, 0.05, {0.4}}, {-3.1, 0.05, 0.05, {0.4}}});
  ASSERT_EQ(row.size(), 2U);
  EXPECT_NEAR(row[0].mean[0], 0, 1e-9);
  EXPECT_NEAR(row[0].covariance(0, 0), 1, 1e-9);
}

// Birge's ratio: two places that lie 1.5 times as far apart as one would expect are known 1.5 times less well.
TEST(RowAgreement, KnowsLessWellWhatHardlyAgrees) {
  RearPlace near{-3.0, 0.05, 0.03, {}};
  const double u_apart = std::sqrt(2 * variance(near));
  const auto common = [&](double apart) {
    RearPlace far = near;
    far.x = *near.x + apart * u_apart;
    return agreed_rear_ends(std::vector<RearPlace>{near, far, {{}, 0, 0.0, {}}}).at(2);
  };
  EXPECT_NEAR(common(1.5).covariance(0, 0), 1.5 * 1.5 * common(0.5).covariance(0, 0), 1e-9);
  EXPECT_NEAR(common(1.5).rear_x(), -3.0 + 0.75 * u_apart, 1e-9);
}

TEST(RowAgreement, SaysNothingWhereTwoContradictEachOther) {
  EXPECT_TRUE(agreed_rear_ends(std::vector<RearPlace>{{-3.0, 0.05, 0.05, {}}, {-2.4, 0.05, 0.05, {}}}).empty());
  EXPECT_TRUE(agreed_rear_ends(std::vector<RearPlace>{{-3.0, 0.05, 0.05, {}}}).empty());
  EXPECT_TRUE(agreed_rear_ends(std::vector<RearPlace>{{{}, 0, 0.05, {}}, {{}, 0, 0.05, {}}}).empty());
}

TEST(RowAgreement, LeavesOutTheWorstOfThree) {
  const auto row =
      agreed_rear_ends(std::vector<RearPlace>{{-3.0, 0.05, 0.05, {}}, {-2.4, 0.05, 0.05, {}}, {-3.04, 0.05, 0.05, {}}});
  ASSERT_EQ(row.size(), 3U);
  EXPECT_NEAR(row[1].rear_x(), -3.02, 1e-6);
}

}  // namespace
}  // namespace glintline
