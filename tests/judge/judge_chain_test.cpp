#include "judge/judge_chain.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <boost/math/distributions/hypergeometric.hpp>
#include <cmath>

#include "judge/chain_builder.h"
#include "judge/unseen_cutters.h"

namespace glintline {
namespace {

using testing::both_views;
using testing::built;
using testing::BuiltChain;
using ::testing::Contains;
using testing::cutter_facts;
using testing::cutters_alike;
using testing::loop;
using testing::CutterFacts;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

ChainVerdict judged(const BuiltChain& chain, const std::vector<ReportedFault>& reported = {}) {
  return judge_chain({chain.chain(), chain.cutters, chain.plan, reported, chain.limits, chain.numbering.sequence});
}

ChainVerdict judged(const std::vector<CutterFacts>& facts, const std::vector<ReportedFault>& reported = {},
                    int drive_links = 12) {
  return judged(built(both_views(facts), loop(drive_links)), reported);
}

TEST(JudgeChain, ClearsAChainOnlyWhenEveryCutterWasSeen) {
  EXPECT_EQ(judged(cutters_alike(6)).action, ChainAction::kUse);
  const ChainVerdict part = judged(cutters_alike(5));
  EXPECT_EQ(part.action, ChainAction::kUndecided);
  EXPECT_THAT(part.cannot_claim, Contains(HasSubstr("5 of 6 cutters were seen")));
  EXPECT_THAT(part.look_next, Contains(HasSubstr("cutter 6, the 3rd right-hander behind the mark")));
  EXPECT_EQ(judged(built(both_views(cutters_alike(6)))).action, ChainAction::kUndecided) << "count not known";
  EXPECT_THAT(judged(cutters_alike(6)).cannot_claim, Contains(HasSubstr("cracks")));
}

// Cracked links, loose rivets, a chain that broke twice: discarded, whatever the photographs say (WAC 296-54-535 and
// makers' manuals).
TEST(JudgeChain, RetiresOnWhatTheUserFound) {
  for (const std::string fault : {"crack", "crack:4", "loose rivet:2", "broken-twice"}) {
    const auto reported = reported_fault(fault);
    ASSERT_TRUE(reported) << fault;
    EXPECT_EQ(judged(cutters_alike(6), {*reported}).action, ChainAction::kRetire) << fault;
  }
  EXPECT_EQ(judged(cutters_alike(6), {*reported_fault("broken")}).action, ChainAction::kOutOfUse);
  EXPECT_EQ(reported_fault("loose-rivet:12")->number, 12);
  for (const std::string fault : {"", "dirt", "crack:", "crack:0", "crack:x", "crack:3x"}) {
    EXPECT_FALSE(reported_fault(fault)) << fault;
  }
}

TEST(JudgeChain, RetiresWhenTooManyCuttersAreAtTheirEnd) {
  auto facts = cutters_alike(6);
  facts[0].length_mm = 3.8;
  EXPECT_EQ(judged(facts).action, ChainAction::kOutOfUse) << "one may be replaced";
  facts[2].length_mm = facts[4].length_mm = 3.7;
  EXPECT_EQ(judged(facts).action, ChainAction::kRetire);
  EXPECT_EQ(too_many_at_end(36), 4);
  EXPECT_EQ(too_many_at_end(12), 3);
}

TEST(JudgeChain, IsUndecidedWhereThePlanWouldTakeAllToTheLimit) {
  auto facts = cutters_alike(6);
  for (auto& f : facts) f.length_mm = 4.6;
  for (auto& f : facts) f.radius_um = 45;
  facts[3].length_mm = 4.15;
  facts[3].chip_depths_mm = {0.09};  // too close to 0.10 to be harmless
  const ChainVerdict verdict = judged(facts);
  EXPECT_EQ(verdict.action, ChainAction::kUndecided);
  EXPECT_THAT(verdict.why.front(), HasSubstr("too close to 4.00 mm"));
}

TEST(JudgeChain, PutsATooLowGaugeBeforeFilingAndACloseOneToo) {
  auto facts = cutters_alike(6);
  facts[1].radius_um = 80;
  EXPECT_EQ(judged(facts).action, ChainAction::kFile);
  facts[4].drop_mm = 0.74;
  EXPECT_EQ(judged(facts).action, ChainAction::kUndecided);
  EXPECT_THAT(judged(facts).why.front(), HasSubstr("treat it as too low"));
  facts[4].drop_mm = 0.95;
  EXPECT_EQ(judged(facts).action, ChainAction::kOutOfUse);
  EXPECT_THAT(judged(facts).why.front(), HasSubstr("cutter 5 (3rd left-hander behind the mark)"));
}

// 5 degrees between left and right: act (proposed, no source).
TEST(JudgeChain, ComparesTheHandsEdgeAngles) {
  auto facts = cutters_alike(6);
  for (auto& f : facts) f.angle_deg = f.hand == Hand::kLeft ? 33.5 : 27;
  EXPECT_EQ(judged(facts).action, ChainAction::kFile);
  EXPECT_THAT(judged(facts).why, Contains(HasSubstr("pulls to one side")));
  for (auto& f : facts) f.angle_deg = f.hand == Hand::kLeft ? 32 : 28;
  EXPECT_EQ(judged(facts).action, ChainAction::kUse);
  EXPECT_THAT(judged(facts).why, Contains(HasSubstr("over 3 degrees")));
}

TEST(JudgeChain, SaysNothingOfAChainNobodySaw) {
  EXPECT_EQ(judged(std::vector<CutterFacts>{}).action, ChainAction::kUndecided);
}

// --- quick check -------------------------------------------------------------------------------------------------

// Against Boost's hypergeometric distribution, and for many cutters against the rule of three (Hanley & Lippman-Hand,
// JAMA 249, 1983): 3/n of the whole, within the tenth that the rule is off for n of 30 and more.
TEST(UnseenCutters, BoundsWhatAFewGoodOnesLeaveOpen) {
  for (const int all : {20, 36, 60}) {
    for (const int seen : {1, 3, 6, 12, 19}) {
      const int bad = most_bad_unseen(all, seen);
      const auto none_seen = [&](int k) {
        return boost::math::pdf(boost::math::hypergeometric(static_cast<unsigned>(k), static_cast<unsigned>(seen),
                                                            static_cast<unsigned>(all)),
                                0U);
      };
      EXPECT_GE(none_seen(bad), 0.05 - 1e-9) << all << " " << seen;
      if (bad + seen < all) {
        EXPECT_LT(none_seen(bad + 1), 0.05) << all << " " << seen;
      }
    }
  }
  EXPECT_EQ(most_bad_unseen(36, 36), 0);
  EXPECT_EQ(most_bad_unseen(36, 6), 13);
  EXPECT_NEAR(most_bad_unseen(10000, 60), 10000 * 3.0 / 60, 0.1 * 10000 * 3.0 / 60);
}

TEST(UnseenCutters, AsksForTheDamagedOnesNeighboursThenTheWidestGaps) {
  auto facts = std::vector<CutterFacts>{cutter_facts(1), cutter_facts(12), cutter_facts(24)};
  facts[1].radius_um = 90;
  const BuiltChain chain = built(both_views(facts), loop(72));
  const auto next = look_next(chain.cutters, chain.numbering.sequence, 4);
  ASSERT_EQ(next.size(), 4U);
  EXPECT_THAT(next[0], HasSubstr("cutter 11"));
  EXPECT_THAT(next[1], HasSubstr("cutter 13"));
  EXPECT_THAT(next[2], HasSubstr("nothing near it"));
}

TEST(JudgeChain, AFewCuttersCondemnButNeverClear) {
  const std::vector<CutterFacts> six{cutter_facts(1),  cutter_facts(2),  cutter_facts(13),
                                     cutter_facts(14), cutter_facts(25), cutter_facts(26)};
  const ChainVerdict clean = judged(six, {}, 72);
  EXPECT_EQ(clean.action, ChainAction::kUndecided);
  EXPECT_THAT(clean.cannot_claim, Contains(HasSubstr("up to 13 of the others")));
  EXPECT_THAT(clean.look_next, Not(IsEmpty()));
  auto low = six;
  low[3].drop_mm = 0.95;
  EXPECT_EQ(judged(low, {}, 72).action, ChainAction::kOutOfUse);
}

}  // namespace
}  // namespace glintline
