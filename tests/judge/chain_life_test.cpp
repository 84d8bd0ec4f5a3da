#include "judge/chain_life.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "judge/chain_builder.h"

namespace glintline {
namespace {

using testing::both_views;
using testing::built;
using testing::BuiltChain;
using ::testing::Contains;
using testing::cutter_facts;
using testing::CutterFacts;
using testing::inspection_of;
using ::testing::HasSubstr;
using ::testing::IsEmpty;

/// Floating-point sums over a few values.
constexpr double kExact = 1e-9;

std::vector<CutterFacts> cutters_with(const std::vector<double>& radii_um, double length_mm = 8) {
  std::vector<CutterFacts> facts;
  for (const double radius : radii_um) {
    facts.push_back(cutter_facts(static_cast<int>(facts.size()) + 1, length_mm));
    facts.back().radius_um = radius;
  }
  return facts;
}

RecordedInspection inspected(const std::string& at, const std::string& stage, const std::vector<CutterFacts>& facts,
                             std::optional<int> expected = std::nullopt) {
  RecordedInspection recorded{"i " + at, "loop", at, stage, "0.1.0", inspection_of(built(both_views(facts)))};
  recorded.inspection.expected_cutters = expected;
  return recorded;
}

ChainEvent event(const std::string& at, std::variant<Job, FilingDone, Purchase, TimedCut> what) {
  return {"e " + at, "loop", at, std::move(what), ""};
}

Job hours(double worked, bool dirt = false) { return {worked, {}, {}, "", dirt, false}; }

TEST(ChainLife, MeansAreAsSureAsTheirCutters) {
  const ChainHistory life = life_of({"loop", {inspected("2026-10-01", "new", cutters_with({10, 12, 14, 16}))}, {}});
  ASSERT_EQ(life.points.size(), 1U);
  const HistoryPoint& point = life.points[0];
  EXPECT_EQ(point.cutters, 4);
  EXPECT_NEAR(point.rounding_um->value, 13, kExact);
  // Each u is 5 % of its radius, independent: u of the mean = root of the sum of squares over 4.
  EXPECT_NEAR(point.rounding_um->u(), 0.05 * std::sqrt(10 * 10 + 12 * 12 + 14 * 14 + 16 * 16) / 4, kExact);
  EXPECT_NEAR(point.drop_mm->u(), 0.01 / 2, kExact);
  EXPECT_EQ(point.chips_a_cutter, 0.0);
}

TEST(ChainLife, CuttersNotSeenMakeTheMeanLessSure) {
  const ChainHistory life = life_of({"loop", {inspected("2026-10-01", "", cutters_with({10, 14}), 8)}, {}});
  // Cochran, Sampling Techniques, 3rd ed., eq. 2.20 (from memory): s² (1 - n/N) / n with s² = 8, n = 2, N = 8.
  const double measured = 0.05 * std::sqrt(10 * 10 + 14 * 14) / 2;
  EXPECT_NEAR(life.points[0].rounding_um->u(), std::hypot(measured, std::sqrt(8 * (1 - 2.0 / 8) / 2)), kExact);
}

TEST(ChainLife, ACutterWithoutVisibleRoundingCountsAsHalfItsLimit) {
  RecordedInspection recorded = inspected("2026-10-01", "", cutters_with({10, 10}));
  for (Inspection& photo : recorded.inspection.photos) {
    if (photo.view == ViewKind::kPlan) photo.cutters[0].measured.edge_radius_um.reset();
  }
  recorded.inspection.cutters[0].measured.edge_radius_limit_um = 20;
  recorded.inspection.cutters[1].measured.edge_radius_limit_um.reset();
  const ChainHistory life = life_of({"loop", {recorded}, {}});
  EXPECT_NEAR(life.points[0].rounding_um->value, 10, kExact);
  // JCGM 100:2008, 4.3.7: a rectangular distribution of full width w has u = w / sqrt(12). The other cutter is not
  // known: one of two, whose spread is not known either.
  EXPECT_NEAR(life.points[0].rounding_um->u(), std::hypot(20 / std::sqrt(12.0), 10), kExact);
}

TEST(ChainLife, WearIsTheSameCuttersChangeOverTheWorkBetween) {
  // Forests 16:1763 (2025): 1.48 um per m² of kerf in pine; 10 m² make 14.8 um.
  const ChainHistory life =
      life_of({"loop",
               {inspected("2026-10-01", "new", cutters_with({10, 10, 10, 10})),
                inspected("2026-10-20", "after clean work", cutters_with({24.8, 24.8, 24.8, 24.8}))},
               {event("2026-10-10", Job{4.0, 5.0, 10.0, "pine", false, false})}});
  ASSERT_EQ(life.rates.size(), 3U);
  EXPECT_EQ(life.rates[2].per, "m²");
  EXPECT_NEAR(life.rates[2].rounding_um.value, 1.48, kExact);
  EXPECT_NEAR(life.rates[2].rounding_um.u(), 0.05 * std::hypot(10, 24.8) / 2 / 10, kExact);
  EXPECT_TRUE(life.rates[2].real);
  EXPECT_NEAR(life.rates[0].rounding_um.value, 14.8 / 4, kExact);
  EXPECT_NEAR(life.rates[1].rounding_um.value, 14.8 / 5, kExact);
  EXPECT_EQ(life.points[1].hours, 4);
}

TEST(ChainLife, WearAcrossAFilingIsNotWear) {
  const ChainHistory life =
      life_of({"loop",
               {inspected("2026-10-01", "after dirt", cutters_with({40, 40}, 8)),
                inspected("2026-10-20", "after filing", cutters_with({10, 10}, 7.6))},
               {event("2026-10-10", hours(2)), event("2026-10-15", FilingDone{"Kim", 4.0, {}, {}})}});
  EXPECT_THAT(life.rates, IsEmpty());
  EXPECT_EQ(life.filings, 1);
  EXPECT_THAT(life.statements, Contains(HasSubstr("a filing took 0.40 +- ")));
}

TEST(ChainLife, SaysWhetherDirtMadeARealDifference) {
  const std::vector<RecordedInspection> inspections = {inspected("2026-10-01", "new", cutters_with({10, 10, 10})),
                                                       inspected("2026-10-10", "clean", cutters_with({12, 12, 12})),
                                                       inspected("2026-10-20", "dirt", cutters_with({40, 40, 40}))};
  const ChainHistory life =
      life_of({"loop", inspections, {event("2026-10-05", hours(4)), event("2026-10-15", hours(2, true))}});
  EXPECT_THAT(life.statements, Contains(::testing::AllOf(HasSubstr("dirty work less clean work: 13.5 +- "),
                                                         HasSubstr("a real difference"))));
}

TEST(ChainLife, CostIsAllThatWasPaidOverAllThatWasWorked) {
  const ChainHistory life =
      life_of({"loop",
               {},
               {event("2026-10-01", Purchase{24.9, "EUR"}), event("2026-10-05", hours(6)),
                event("2026-10-10", FilingDone{"shop", {}, {}, 4.0}), event("2026-10-12", hours(3))}});
  EXPECT_NEAR(*life.cost, 28.9, kExact);
  EXPECT_NEAR(*life.cost_per_hour, 28.9 / 9, kExact);
  EXPECT_EQ(life.currency, "EUR");
}

TEST(ChainLife, CuttingSpeedStandsBesideTheEdgeThatCut) {
  // Nevrkla, J. For. Sci. 2025: 27.9 cm²/s; a log of 25 cm (491 cm²) then takes 17.6 s.
  const Quantity section{491, {{Source::kDefinition, 5}}};
  const ChainHistory life =
      life_of({"loop",
               {inspected("2026-10-01", "new", cutters_with({10, 10})),
                inspected("2026-10-20", "after dirt", cutters_with({40, 40}))},
               {event("2026-10-01T10:00", TimedCut{17.6, section, "spruce"}), event("2026-10-10", hours(3)),
                event("2026-10-20T10:00", TimedCut{22.0, section, "spruce"}),
                event("2026-10-20T11:00", TimedCut{22.0, section, "beech"})}});
  ASSERT_EQ(life.speeds.size(), 3U);
  EXPECT_NEAR(life.speeds[0].cm2_per_s.value, 27.9, 0.05);
  EXPECT_NEAR(life.speeds[0].rounding_um->value, 10, kExact);
  EXPECT_FALSE(life.speeds[0].share_of_new);
  EXPECT_NEAR(life.speeds[1].rounding_um->value, 40, kExact);
  EXPECT_NEAR(life.speeds[1].share_of_new->value, 17.6 / 22, kExact);
  EXPECT_FALSE(life.speeds[2].share_of_new) << "another wood tells nothing";
}

TEST(ChainLife, ChainsAreComparedStageAgainstStage) {
  const ChainRecord a{
      "A",
      {inspected("1", "new", cutters_with({10, 10, 10})), inspected("2", "after dirt", cutters_with({40, 40, 40}))},
      {}};
  const ChainRecord b{
      "B",
      {inspected("1", "new", cutters_with({10, 10, 11})), inspected("2", "after dirt", cutters_with({20, 20, 20}))},
      {}};
  const std::vector<StageDifference> differences = stage_differences({a, b});
  int roundings = 0;
  for (const StageDifference& difference : differences) {
    if (difference.quantity != "rounding") continue;
    ++roundings;
    EXPECT_EQ(difference.real, difference.stage == "after dirt") << difference.text;
  }
  EXPECT_EQ(roundings, 2);
  EXPECT_THAT(differences.back().text, HasSubstr("no real difference"));
}

// The u95 of a difference holds the true one about 95 times of 100 (common practice: 90 to 99.5 over many seeds), so
// that equal chains are rarely called different.
TEST(ChainLife, EqualChainsAreRarelyCalledDifferent) {
  constexpr int kSeeds = 400;
  int called_different = 0;
  for (int seed = 0; seed < kSeeds; ++seed) {
    std::mt19937 random(static_cast<unsigned>(seed) + 77);
    std::normal_distribution<double> error(0, 1);
    const auto chain = [&](const char* name) {
      std::vector<CutterFacts> facts = cutters_with({20, 20, 20, 20});
      for (CutterFacts& f : facts) f.radius_um += 0.05 * 20 * error(random);
      return ChainRecord{name, {inspected("1", "new", facts)}, {}};
    };
    for (const StageDifference& difference : stage_differences({chain("A"), chain("B")})) {
      if (difference.quantity == "rounding") called_different += difference.real;
    }
  }
  const double share = static_cast<double>(called_different) / kSeeds;
  EXPECT_GE(share, 0.005);
  EXPECT_LE(share, 0.10);
}

}  // namespace
}  // namespace glintline
