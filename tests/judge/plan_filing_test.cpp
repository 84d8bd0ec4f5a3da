#include "judge/plan_filing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "judge/chain_builder.h"
#include "judge/stroke_stock.h"
#include "judge/wedge.h"

namespace glintline {
namespace {

using testing::both_views;
using testing::built;
using testing::BuiltChain;
using ::testing::Contains;
using testing::cutter_facts;
using testing::CutterFacts;
using testing::cutters_of;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr double kDeg = M_PI / 180;
constexpr double kExact = 1e-9;

std::vector<double> takes(const FilingPlan& plan) {
  std::vector<double> values;
  for (const CutterWork& w : plan.work) values.push_back(w.take_mm ? w.take_mm->value : -1);
  return values;
}

auto near_each(const std::vector<double>& wanted) {
  std::vector<::testing::Matcher<double>> matchers;
  for (const double w : wanted) matchers.push_back(::testing::DoubleNear(w, kExact));
  return ::testing::ElementsAreArray(matchers);
}

// ICFR handbook: all cutters to the length of the shortest. Lengths 7.9 8.0 8.1 7.2: target 7.2, take 0.7 0.8 0.9 0.
TEST(PlanFiling, TakesSharpCuttersToTheLengthOfTheShortest) {
  const FilingPlan plan = built(both_views(cutters_of({7.9, 8.0, 8.1, 7.2}))).plan;
  EXPECT_NEAR(plan.target_mm->value, 7.2, kExact);
  EXPECT_EQ(plan.decided_by, 4);
  EXPECT_THAT(takes(plan), near_each({0.7, 0.8, 0.9, 0}));
  EXPECT_EQ(plan.work[3].action, Action::kLeave);
  EXPECT_EQ(plan.work[0].action, Action::kFile);
  EXPECT_THAT(plan.filing_order, ElementsAre(1, 3, 2, 4));
}

// One more of 8.0 of which damage takes 1.5: the shortest *usable* length is 6.5, for all. The chip's depth is chosen
// so that depth and rounding of its floor cost 1.5 along the chain at 30 degrees (arithmetic).
TEST(PlanFiling, TakesTheShortestUsableLengthNotTheShortest) {
  auto facts = cutters_of({7.9, 8.0, 8.1, 7.2, 8.0});
  facts[4].chip_depths_mm = {1.5 * std::cos(30 * kDeg) - 0.010};
  const FilingPlan plan = built(both_views(facts)).plan;
  EXPECT_NEAR(plan.target_mm->value, 6.5, kExact);
  EXPECT_EQ(plan.decided_by, 5);
  EXPECT_THAT(takes(plan), near_each({1.4, 1.5, 1.6, 0.7, 1.5}));
}

TEST(PlanFiling, CountsFromTheUndamagedEdgeWhereAChipHasShortenedTheCornerAlready) {
  auto facts = cutters_of({8.0, 8.0});
  facts[0].chip_depths_mm = {0.5};
  facts[0].corner_wear_mm = 0.45;  // the chip lies at the corner: the length as it is lacks it already
  facts[0].length_mm = 7.55;
  const FilingPlan plan = built(both_views(facts)).plan;
  EXPECT_NEAR(plan.target_mm->value, 8.0 - 0.510 / std::cos(30 * kDeg), kExact);
}

// 0.3 mm of the corner are missing, the rest of the edge wants 0.06 / cos 30 = 0.07 mm: filed by that alone, the edge's
// line would stand 0.23 mm before the corner that is left.
TEST(PlanFiling, FilesNoCutterLongerThanItsBrokenCornerLeavesIt) {
  auto facts = cutters_of({8.0, 8.0});
  for (auto& f : facts) f.radius_um = 60;
  facts[0].length_mm = 7.7;
  facts[0].corner_wear_mm = 0.3;
  const BuiltChain chain = built(both_views(facts));
  EXPECT_EQ(chain.plan.decided_by, 1);
  EXPECT_NEAR(chain.plan.target_mm->value, 7.7, kExact);
  EXPECT_THAT(chain.cutters[0].verdict.why, Contains(HasSubstr("which leaves 7.70 mm")));
  EXPECT_THAT(chain.plan.notes, Contains(HasSubstr("corner broken off on 1: ")));
}

// The bevel goes back farther than the cutter gets shorter: the lost tip is metal too.
TEST(PlanFiling, CountsStrokesForTheLostTipAsWell) {
  auto facts = cutters_of({8.0, 8.0});
  for (auto& f : facts) f.radius_um = 60;
  const FilingPlan plan = built(both_views(facts)).plan;
  const double back = 0.060 / std::cos(30 * kDeg);
  EXPECT_NEAR(plan.target_mm->value, 8.0 - back, kExact);
  EXPECT_THAT(plan.notes, Not(Contains(HasSubstr("corner broken off"))));
  const double bevel = back + lost_tip(0.060, wedge_angle_rad().value) / std::cos(30 * kDeg);
  EXPECT_NEAR(plan.work[0].strokes->likely, bevel / 0.05, kExact);
  EXPECT_GT(bevel, 1.5 * back);
  EXPECT_LT(plan.work[0].strokes->least, plan.work[0].strokes->likely);
  EXPECT_GT(plan.work[0].strokes->most, 1.5 * plan.work[0].strokes->likely);
}

TEST(PlanFiling, FilesNothingWhereNothingNeedsIt) {
  const FilingPlan plan = built(both_views(cutters_of({8.0, 8.1, 7.9}))).plan;
  EXPECT_FALSE(plan.target_mm);
  for (const CutterWork& w : plan.work) EXPECT_EQ(w.action, Action::kLeave);
  EXPECT_THAT(plan.notes, Contains(HasSubstr("nothing to file")));
}

// Drop 0.50, wanted 0.65: 0.15 off the gauge (worked value; 0.65: Bayerische Waldbauernschule, makers' manuals).
TEST(PlanFiling, LowersTheGaugeByTheDifference) {
  auto facts = cutters_of({8.0, 8.0});
  facts[0].drop_mm = 0.50;
  const FilingPlan plan = built(both_views(facts)).plan;
  EXPECT_EQ(plan.work[0].action, Action::kLowerGauge);
  EXPECT_NEAR(plan.work[0].gauge_take_mm->value, 0.15, kExact);
  EXPECT_FALSE(plan.work[1].gauge_take_mm);
}

// Filing back lowers the top by tan(slope), about 0.09 mm a mm at 5 degrees (worked value).
TEST(PlanFiling, ReckonsWithTheTopComingDown) {
  const FilingPlan plan = built(both_views(cutters_of({8.0, 7.0}))).plan;
  EXPECT_NEAR(plan.work[0].drop_after_mm->value, 0.65 - std::tan(5 * kDeg), kExact);
  EXPECT_NEAR(std::tan(5 * kDeg), 0.09, 0.005);
  EXPECT_NEAR(plan.work[1].drop_after_mm->value, 0.65, kExact);
}

// Drop 0.95: 0.3 mm cost 3.4 mm of cutter, usually retire (worked value): no plan for the others brings it back.
TEST(PlanFiling, KeepsAGaugeThatStaysTooLowOutOfUse) {
  auto facts = cutters_of({8.0, 7.5});
  facts[0].drop_mm = 0.95;
  const FilingPlan plan = built(both_views(facts)).plan;
  EXPECT_EQ(plan.work[0].action, Action::kGaugeTooLow);
  EXPECT_THAT(plan.work[0].notes, Contains(HasSubstr("out of use")));
  EXPECT_FALSE(plan.work[0].gauge_take_mm);
}

TEST(PlanFiling, NeverTakesSoMuchOffAGaugeThatTheDropCouldPassTheMost) {
  for (const double u : {0.005, 0.02, 0.04, 0.06}) {
    auto facts = cutters_of({8.0});
    facts[0].drop_mm = 0.35;
    facts[0].u_drop_mm = u;
    const BuiltChain chain = built(both_views(facts));
    const CutterWork& work = chain.plan.work[0];
    if (!work.gauge_take_mm) continue;
    EXPECT_LE(work.drop_after_mm->value + work.gauge_take_mm->value + 1.645 * work.drop_after_mm->u(),
              chain.limits.most_drop_mm.value + kExact);
  }
}

// Limit 4.0: a cutter of 3.9 is retired, and so is one of 4.1 that needs 0.2 (worked values; makers' manuals).
TEST(PlanFiling, DoesNotLetACutterAtItsEndDecide) {
  auto facts = cutters_of({3.9, 4.1, 6.0, 6.1});
  facts[1].chip_depths_mm = {0.2 * std::cos(30 * kDeg) - 0.010};
  const BuiltChain chain = built(both_views(facts));
  EXPECT_EQ(chain.cutters[0].verdict.action, Action::kRetire);
  EXPECT_EQ(chain.cutters[1].verdict.action, Action::kRetire);
  EXPECT_THAT(chain.plan.not_planned, ElementsAre(HasSubstr("cutter 1"), HasSubstr("cutter 2")));
  EXPECT_EQ(chain.plan.work.size(), 4U);
  EXPECT_EQ(chain.plan.work[0].action, Action::kRetire);
}

TEST(PlanFiling, SaysWhatLeavingTheWorstOutSaves) {
  const FilingPlan plan = built(both_views(cutters_of({7.9, 8.0, 8.1, 7.2}))).plan;
  ASSERT_FALSE(plan.options.empty());
  EXPECT_THAT(plan.options[0].left_out, ElementsAre(4));
  EXPECT_NEAR(plan.options[0].saved_mm->value, 0.7, kExact);
  EXPECT_NEAR(plan.options[0].target_mm->value, 7.9, kExact);
  EXPECT_GT(plan.options[0].sharpenings_left->likely, plan.sharpenings_left->likely);
  EXPECT_THAT(plan.options[0].but, Not(IsEmpty()));
}

TEST(PlanFiling, SaysThatAnUnseenEdgeMayPutTheTargetLower) {
  auto photos = both_views(cutters_of({7.9, 8.0, 7.2}));
  photos.erase(photos.begin() + 3);  // the second cutter's plan photograph is spoiled
  const FilingPlan plan = built(photos).plan;
  EXPECT_THAT(plan.notes, Contains(HasSubstr("no edge seen on 2")));
}

TEST(PlanFiling, ChangesWhenThePhotographOfTheDecidingCutterIsSpoiled) {
  auto photos = both_views(cutters_of({7.9, 8.0, 7.2}));
  const double target = built(photos).plan.target_mm->value;
  photos.resize(4);  // the third one's are gone
  const FilingPlan without = built(photos).plan;
  EXPECT_FALSE(without.target_mm);
  EXPECT_NEAR(target, 7.2, kExact);
  photos = both_views(cutters_of({7.9, 8.0, 7.2}));
  for (const std::size_t p : {4U, 5U}) photos[p].cutters[0].measured.length_mm.reset();
  for (const std::size_t p : {4U, 5U}) photos[p].cutters[0].measured.whole_length_mm.reset();
  EXPECT_THAT(built(photos).plan.not_planned, ElementsAre(HasSubstr("if it is shorter than the others, all of them")));
}

TEST(PlanFiling, ComparesLeftWithRight) {
  auto facts = cutters_of({8.2, 8.0, 8.2, 8.0, 8.2, 8.0});
  const FilingPlan plan = built(both_views(facts)).plan;
  EXPECT_NEAR(plan.left_less_right_mm->value, 0.2, kExact);
  EXPECT_NEAR(plan.left_less_right_mm->u(), 0.01 / std::sqrt(2) * std::sqrt(2.0 / 3), kExact);
}

/// A scale error that all photographs share does not make some cutters longer than others, but it does not shrink in
/// the target either.
TEST(PlanFiling, LetsSharedErrorsCancelInTheTakeAndNotInTheTarget) {
  auto photos = both_views(cutters_of({8.0, 7.2, 7.9}));
  for (Inspection& photo : photos) {
    for (InspectedCutter& cutter : photo.cutters) {
      cutter.measured.length_mm->budget.push_back({Source::kPrint, 0.04});
      if (cutter.measured.whole_length_mm) cutter.measured.whole_length_mm->budget.push_back({Source::kPrint, 0.04});
    }
  }
  const FilingPlan plan = built(photos).plan;
  EXPECT_LT(plan.work[0].take_mm->u(), 0.02);
  EXPECT_GE(plan.target_mm->u(), 0.04);
}

// --- strokes -----------------------------------------------------------------------------------------------------

StrokeCount counted_strokes(int cutter, double strokes, double bevel_mm, double u_mm = 0.02) {
  return {"ridge", cutter, strokes, bevel_mm, u_mm};
}

TEST(StrokeStock, IsWideUntilSomebodyHasCounted) {
  const StrokeStock stock = learned_stock({});
  EXPECT_EQ(stock.mm.value, 0.05);
  EXPECT_THAT(stock.source, HasSubstr("assumed"));
  const CountBand band = strokes_for({0.5, {}}, stock);
  EXPECT_NEAR(band.likely, 10, kExact);
  EXPECT_NEAR(band.least, 5, kExact);
  EXPECT_NEAR(band.most, 20, kExact);
}

TEST(StrokeStock, IsLearnedFromCountedCuttersAndPassesOverUselessOnes) {
  const StrokeStock stock =
      learned_stock({counted_strokes(1, 10, 0.61), counted_strokes(2, 9, 0.53), counted_strokes(3, 11, 0.67),
                     counted_strokes(4, 10, 0.58), counted_strokes(5, 0, 0.5), counted_strokes(6, 5, std::nan(""))});
  EXPECT_NEAR(stock.mm.value, 0.06, 0.002);
  EXPECT_LT(stock.mm.u(), 0.004);
  EXPECT_THAT(stock.source, HasSubstr("4 cutters"));
  EXPECT_GT(learned_stock({counted_strokes(1, 10, 0.61)}).mm.u(), 0.01) << "one cutter does not tell the next";
  EXPECT_THAT(learned_stock({counted_strokes(1, 4, 0.01, 0.05)}).source, HasSubstr("assumed"));
}

// The band holds the count of the next cutter in about 95 % of trials; half a per cent is one standard deviation.
TEST(StrokeStock, BandsHoldTheNextCuttersCount) {
  std::mt19937 random(20261127);
  std::normal_distribution<double> normal;
  constexpr int kTrials = 2000;
  int inside = 0;
  for (int trial = 0; trial < kTrials; ++trial) {
    const double mean = 0.04 + 0.03 * std::abs(normal(random));
    const auto draw = [&] { return mean * std::exp(0.15 * normal(random)); };
    std::vector<StrokeCount> counts;
    for (int i = 0; i < 12; ++i) counts.push_back(counted_strokes(i, 10, 10 * draw() + 0.03 * normal(random), 0.03));
    const double bevel = 0.5;
    const double needed = bevel / draw();
    const CountBand band = strokes_for({bevel + 0.03 * normal(random), {{Source::kEdge, 0.03}}}, learned_stock(counts));
    inside += needed >= band.least && needed <= band.most;
  }
  EXPECT_GT(inside / double(kTrials), 0.90);
  EXPECT_LT(inside / double(kTrials), 0.995);
}

/// A chain drawn at random, photographed with noise, planned, and filed as planned on the true cutters: the honest u of
/// the takes, over many chains, for cutters that do not decide.
TEST(PlanFiling, TakesAreWithinTheirUncertaintyOfWhatTheTrueChainNeeds) {
  std::mt19937 random(20261128);
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  int inside = 0, all = 0;
  for (int trial = 0; trial < 60; ++trial) {
    std::vector<CutterFacts> truth;
    for (int n = 1; n <= 8; ++n) {
      truth.push_back(cutter_facts(n, 7.8 + 0.4 * uniform(random)));
      truth.back().radius_um = 45;
    }
    truth[2].length_mm = 7.1;  // one that decides beyond doubt
    auto seen = truth;
    for (auto& f : seen) {
      f.u_length_mm = 0.04;
      f.length_mm += 0.04 / std::sqrt(2) * normal(random);  // both views get the same draw: the mean's deviation
    }
    const FilingPlan plan = built(both_views(seen)).plan;
    const double target = 7.1 - 0.045 / std::cos(30 * kDeg);
    for (std::size_t i = 0; i < truth.size(); ++i) {
      if (i == 2) continue;
      const Quantity& take = *plan.work[i].take_mm;
      ++all;
      inside += std::abs(take.value - (truth[i].length_mm - target)) <= kCoverage * take.u();
    }
  }
  EXPECT_GT(inside, 0.90 * all);
  EXPECT_LE(inside, 0.995 * all);
}

}  // namespace
}  // namespace glintline
