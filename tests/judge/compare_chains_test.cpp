#include "judge/compare_chains.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "judge/chain_builder.h"
#include "judge/wedge.h"

namespace glintline {
namespace {

using testing::both_views;
using testing::built;
using ::testing::Contains;
using testing::cutter_facts;
using testing::CutterFacts;
using testing::cutters_alike;
using testing::inspection_of;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr double kExact = 1e-9;

ChainInspection day(const std::vector<CutterFacts>& facts, double print_u_mm = 0) {
  auto photos = both_views(facts);
  for (Inspection& photo : photos) {
    for (InspectedCutter& cutter : photo.cutters) {
      if (print_u_mm > 0) cutter.measured.length_mm->budget.push_back({Source::kPrint, print_u_mm});
    }
  }
  ChainInspection inspection = inspection_of(built(photos));
  inspection.sheet.name = "ridge";
  return inspection;
}

const Change& change_in(const ComparedCutter& cutter, const std::string& quantity) {
  for (const Change& change : cutter.changes) {
    if (change.quantity == quantity) return change;
  }
  ADD_FAILURE() << "no " << quantity;
  return cutter.changes.front();
}

TEST(CompareChains, SaysWhatWasFiledOffAndThatTheDamageIsGone) {
  auto before = cutters_alike(6, 8.0, 60);
  before[2].chip_depths_mm = {0.3};
  const Comparison c = compare_chains({day(before), day(cutters_alike(6, 7.4, 8)), false, {}});
  ASSERT_EQ(c.cutters.size(), 6U);
  const Change& length = change_in(c.cutters[0], "length");
  EXPECT_NEAR(length.difference->value, -0.6, kExact);
  EXPECT_TRUE(length.real);
  EXPECT_THAT(length.text, HasSubstr("0.60 +- 0.02 mm filed off"));
  EXPECT_TRUE(change_in(c.cutters[0], "edge radius").real);
  EXPECT_THAT(c.cutters[2].findings, ElementsAre(HasSubstr("0.30 +- 0.02 mm deep, is gone")));
  EXPECT_EQ(c.cutters[2].edge, EdgeAfter::kClean);
  EXPECT_THAT(c.verdict, Contains(HasSubstr("damage is gone")));
  EXPECT_THAT(c.not_compared, Contains(HasSubstr("heat")));
}

TEST(CompareChains, CountsADifferenceOnlyBeyondItsUncertainty) {
  const Comparison c = compare_chains({day(cutters_alike(6, 8.0, 8)), day(cutters_alike(6, 7.99, 8)), false, {}});
  const Change& length = change_in(c.cutters[0], "length");
  EXPECT_FALSE(length.real);
  EXPECT_THAT(length.text, HasSubstr("no difference beyond 0.02 mm"));
}

// u of the difference: sqrt(2) x 0.01 / sqrt(2) of noise (two views a day), and of the print nothing where it is one
// sheet, twice the square where it is two (JCGM 100:2008, F.1.2.3).
TEST(CompareChains, LetsThePrintCancelOnlyOnOneSheet) {
  const ChainInspection before = day(cutters_alike(6, 8.0, 8), 0.04);
  const ChainInspection after = day(cutters_alike(6, 7.9, 8), 0.04);
  const auto u_of = [&](bool same) {
    return change_in(compare_chains({before, after, same, {}}).cutters[0], "length").difference->u();
  };
  EXPECT_NEAR(u_of(true), 0.01, kExact);
  EXPECT_NEAR(u_of(false), std::sqrt(0.01 * 0.01 + 2 * 0.04 * 0.04), kExact);
  EXPECT_FALSE(change_in(compare_chains({before, after, false, {}}).cutters[0], "length").real);
  EXPECT_TRUE(change_in(compare_chains({before, after, true, {}}).cutters[0], "length").real);
}

TEST(CompareChains, FindsDamageLeftBehindTheEdgeAndNewDamage) {
  auto before = cutters_alike(6, 8.0, 60);
  before[3].chip_depths_mm = {0.55};
  auto after = cutters_alike(6, 7.5, 8);
  after[3].chip_depths_mm = {0.15};
  after[4].chip_depths_mm = {0.2};
  after[5].radius_um = 70;
  const Comparison c = compare_chains({day(before), day(after), false, {}});
  EXPECT_THAT(c.cutters[3].findings, ElementsAre(HasSubstr("still there, 0.15")));
  EXPECT_THAT(c.cutters[4].findings, ElementsAre(HasSubstr("is new")));
  EXPECT_THAT(c.cutters[5].findings, ElementsAre(HasSubstr("rounding left behind the edge")));
  EXPECT_THAT(c.verdict.front(), HasSubstr("damage left behind the edge of cutter 4, 5, 6"));
}

// 60 um with u 3 um is over 20 um by 13 u, over 56 um by 1.33 u only (guard band: 1.645 u, ISO 14253-1).
TEST(CompareChains, ASharpEdgeThatOnlyBoundsItsRoundingIsSharper) {
  auto after = cutters_alike(6, 7.5, 8);
  after[0].radius_limit_um = 20;
  after[1].radius_limit_um = 56;
  after[2].radius_limit_um = 20;
  auto before = cutters_alike(6, 8.0, 60);
  before[2].radius_limit_um = 45;
  const Comparison c = compare_chains({day(before), day(after), false, {}});
  const Change& sharp = change_in(c.cutters[0], "edge radius");
  EXPECT_TRUE(sharp.real);
  EXPECT_FALSE(sharp.difference) << "a bound is no value";
  EXPECT_EQ(sharp.after_most, 20);
  EXPECT_THAT(sharp.text, HasSubstr("sharper"));
  EXPECT_EQ(c.cutters[0].edge, EdgeAfter::kClean);
  EXPECT_FALSE(change_in(c.cutters[1], "edge radius").real);
  EXPECT_EQ(c.cutters[1].edge, EdgeAfter::kNotKnown) << "a bound over the dull limit proves nothing";
  EXPECT_EQ(change_in(c.cutters[2], "edge radius").before_most, 45);
  EXPECT_FALSE(change_in(c.cutters[2], "edge radius").real);
  EXPECT_THAT(c.verdict, Contains(HasSubstr("1 edge without a chip that matters, and no rounding over 56 um seen")));
}

TEST(CompareChains, TellsChipByChipWhatIsGoneLeftOrNew) {
  auto before = cutters_alike(6, 8.0, 60);
  before[0].chip_depths_mm = {0.3};
  before[1].chip_depths_mm = {0.5};
  auto after = cutters_alike(6, 7.5, 8);
  after[1].chip_depths_mm = {0.15};
  after[2].chip_depths_mm = {0.2};
  const Comparison c = compare_chains({day(before), day(after), false, {}});
  ASSERT_EQ(c.cutters[0].chips.size(), 1U);
  EXPECT_NEAR(c.cutters[0].chips[0].before_mm->value, 0.3, kExact);
  EXPECT_FALSE(c.cutters[0].chips[0].after_mm);
  EXPECT_NEAR(c.cutters[1].chips[0].after_mm->value, 0.15, kExact);
  ASSERT_EQ(c.cutters[2].chips.size(), 1U);
  EXPECT_FALSE(c.cutters[2].chips[0].before_mm);
  EXPECT_EQ(c.cutters[2].edge, EdgeAfter::kDamaged);
  EXPECT_THAT(c.cutters[3].chips, IsEmpty());
}

TEST(CompareChains, SeesADriftedAngleAShorterSideAndALowGauge) {
  auto after = cutters_alike(6, 7.5, 8);
  for (auto& f : after) {
    if (f.hand == Hand::kRight) f.length_mm = 7.2;
    if (f.hand == Hand::kLeft) f.angle_deg = 33;
  }
  after[1].drop_mm = 0.95;
  const Comparison c = compare_chains({day(cutters_alike(6, 8.0, 60)), day(after), false, {}});
  EXPECT_THAT(c.verdict.front(), HasSubstr("gauge too low on cutter 2"));
  EXPECT_THAT(c.verdict, Contains(HasSubstr("left-handers are filed 3.0")));
  EXPECT_THAT(c.verdict, Contains(HasSubstr("right-handers are shorter by 0.30")));
}

TEST(CompareChains, DoesNotBelieveThatACutterGrew) {
  auto grown = cutters_alike(6, 7.5, 8);
  grown[0].length_mm = 8.5;
  const Comparison one = compare_chains({day(cutters_alike(6, 8.0, 60)), day(grown), false, {}});
  EXPECT_THAT(one.verdict.front(), HasSubstr("1 cutter got longer, which cannot be"));
  EXPECT_THAT(one.cutters[0].findings, Contains(HasSubstr("cannot be")));
  const Comparison swapped = compare_chains({day(cutters_alike(6, 7.5, 8)), day(cutters_alike(6, 8.0, 60)), false, {}});
  EXPECT_THAT(swapped.verdict, ElementsAre(HasSubstr("swapped, or two chains")));
}

TEST(CompareChains, NamesWhatOneDayDidNotSee) {
  auto before = cutters_alike(6, 8.0, 60);
  auto after = cutters_alike(6, 7.5, 8);
  before.pop_back();
  after.erase(after.begin());
  const Comparison c = compare_chains({day(before), day(after), false, {}});
  EXPECT_THAT(c.not_compared, Contains("cutter 1: not seen after"));
  EXPECT_THAT(c.not_compared, Contains("cutter 6: not seen before"));
  EXPECT_THAT(compare_chains({day({}), day(after), false, {}}).verdict, ElementsAre(HasSubstr("nothing to compare")));
}

// Ten strokes that took 0.6 mm of length and the lost tip of a 60 um rounding besides.
TEST(CompareChains, LearnsTheStockPerStroke) {
  std::map<int, double> strokes;
  for (int n = 1; n <= 6; ++n) strokes[n] = 10;
  const ChainInspection before = day(cutters_alike(6, 8.0, 60)), after = day(cutters_alike(6, 7.4, 8));
  const Comparison c = compare_chains({before, after, false, strokes});
  const double tip = lost_tip(0.060, wedge_angle_rad().value) / std::cos(30 * M_PI / 180);
  ASSERT_TRUE(c.stock_per_stroke);
  EXPECT_NEAR(c.stock_per_stroke->mm.value, (0.6 + tip) / 10, 1e-4);
  EXPECT_THAT(c.stock_per_stroke->source, HasSubstr("learned from 6 cutters"));
  EXPECT_FALSE(compare_chains({before, after, false, {}}).stock_per_stroke);
}

/// The plan carried out on the true cutters, photographed again: the comparison proves it.
TEST(CompareChains, ProvesAPlanThatWasCarriedOut) {
  auto truth = cutters_alike(6, 8.0, 55);
  truth[1].length_mm = 7.8;
  truth[2].chip_depths_mm = {0.35};
  const ChainInspection before = day(truth);
  auto filed = truth;
  for (std::size_t i = 0; i < filed.size(); ++i) {
    const CutterWork& work = before.plan.work[i];
    filed[i].length_mm -= work.take_mm->value;
    filed[i].drop_mm = work.drop_after_mm->value + (work.gauge_take_mm ? work.gauge_take_mm->value : 0);
    filed[i].radius_um = 8;
    filed[i].chip_depths_mm.clear();
  }
  const ChainInspection after = day(filed);
  const Comparison c = compare_chains({before, after, true, {}});
  EXPECT_THAT(c.verdict, ElementsAre(HasSubstr("damage is gone")));
  for (const JoinedCutter& cutter : after.cutters) EXPECT_EQ(cutter.verdict.action, Action::kLeave) << cutter.number;
  EXPECT_NEAR(after.plan.left_less_right_mm->value, 0, kExact);
  for (const ComparedCutter& cutter : c.cutters) {
    EXPECT_NEAR(change_in(cutter, "length").after->value, before.plan.target_mm->value, kExact);
  }
}

}  // namespace
}  // namespace glintline
