#include "judge/cutter_verdict.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "judge/common_practice.h"

namespace glintline {
namespace {

using ::testing::Contains;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kDeg = M_PI / 180;

Quantity with_u(double value, double u, Source source = Source::kEdge) { return {value, {{source, u}}}; }

Limits common(Wood wood = Wood::kHardOrFrozen, double pitch_mm = 9.525) {
  ChainSheet sheet;
  sheet.source = "loop.toml";
  sheet.wood = wood;
  sheet.geometry.pitch_mm = pitch_mm;
  return limits_of(sheet);
}

/// Seen in profile, nothing wrong with it.
CutterMeasurement profile(double drop_mm = 0.65, double length_mm = 8.0) {
  CutterMeasurement c;
  c.gauge_drop_mm = with_u(drop_mm, 0.012);
  c.length_mm = with_u(length_mm, 0.04);
  c.top_slope_rad = with_u(5 * kDeg, 0.2 * kDeg);
  return c;
}

/// Seen in plan, sharp and whole.
CutterMeasurement plan(double radius_um = 12, double length_mm = 8.0) {
  CutterMeasurement c;
  c.length_mm = with_u(length_mm, 0.03);
  c.edge_angle_rad = with_u(30 * kDeg, 0.2 * kDeg);
  c.edge_radius_um = with_u(radius_um, 0.08 * radius_um);
  c.chips_searched = true;
  return c;
}

CutterMeasurement chipped(double depth_mm, double length_mm = 8.0) {
  CutterMeasurement c = plan(12, length_mm);
  c.chips.push_back({.at_mm = 1.2, .depth_mm = with_u(depth_mm, 0.01), .width_mm = with_u(0.6, 0.02), .area_mm2 = {}});
  return c;
}

Verdict of_profile(const CutterMeasurement& c, const Limits& limits = common()) {
  return judge_cutter(c, limits, ViewKind::kProfile);
}
Verdict of_plan(const CutterMeasurement& c) { return judge_cutter(c, common(), ViewKind::kPlan); }

// --- the gauge -------------------------------------------------------------------------------------------------

// 0.65 mm for a 3/8 in chain: Bayerische Waldbauernschule and makers' manuals; the difference is arithmetic.
TEST(CutterVerdict, LowersAGaugeThatStandsTooHighByTheDifference) {
  const Verdict v = of_profile(profile(0.50));
  EXPECT_EQ(v.action, Action::kLowerGauge);
  EXPECT_THAT(v.why.front(), HasSubstr("0.50 +- 0.03 mm"));
  EXPECT_THAT(v.why.front(), HasSubstr("lower the gauge by 0.15 mm"));
  EXPECT_THAT(v.why.front(), HasSubstr("Bayerische Waldbauernschule"));
  EXPECT_THAT(v.why, Contains(HasSubstr("round the gauge's front")));
  EXPECT_THAT(v.would_decide, IsEmpty());
}

TEST(CutterVerdict, LeavesARightGaugeAndSaysWhatTheViewDoesNotShow) {
  const Verdict v = of_profile(profile(0.66));
  EXPECT_EQ(v.action, Action::kLeave);
  EXPECT_THAT(v.why.front(), HasSubstr("gauge drop 0.66 +- 0.03 mm: right"));
  EXPECT_THAT(v.why, Contains(HasSubstr("edge radius not judged from this view")));
  EXPECT_THAT(v.would_decide, IsEmpty());
}

// 0.82 mm: over the 0.80 mm that soft, unfrozen wood permits with caution; too low a gauge in hard wood
// (Bayerische Waldbauernschule and makers' manuals).
TEST(CutterVerdict, JudgesMuchDropByTheWood) {
  const Verdict hard = of_profile(profile(0.82));
  EXPECT_EQ(hard.action, Action::kGaugeTooLow);
  EXPECT_THAT(hard.why, Contains(HasSubstr("kickback")));
  const Verdict soft = of_profile(profile(0.82), common(Wood::kSoftUnfrozen));
  EXPECT_EQ(soft.action, Action::kLeave);
  EXPECT_THAT(soft.why, Contains(HasSubstr("caution")));
  EXPECT_THAT(of_profile(profile(0.65), common(Wood::kSoftUnfrozen)).why, Not(Contains(HasSubstr("caution"))));
}

// 0.95 mm is over .035 in (a US logger-training brochure) in any wood and at any pitch. A gauge cannot grow; at 5
// degrees of slope 0.30 mm of drop cost 0.30 / tan 5 = 3.43 mm of cutter (arithmetic), and 4.0 mm is the end (makers'
// manuals).
TEST(CutterVerdict, PutsTooMuchDropOutOfUseInAnyWood) {
  for (const Wood wood : {Wood::kHardOrFrozen, Wood::kSoftUnfrozen}) {
    for (const double pitch : {8.255, 9.525, 10.26}) {
      EXPECT_EQ(of_profile(profile(0.95), common(wood, pitch)).action, Action::kGaugeTooLow);
    }
  }
  const Verdict shortened = of_profile(profile(0.95, 7.0));
  EXPECT_EQ(shortened.action, Action::kGaugeTooLow);
  EXPECT_THAT(shortened.also, ElementsAre(Action::kRetire));
  EXPECT_THAT(shortened.why, Contains(HasSubstr("would take 3.43 mm")));
  const Verdict long_enough = of_profile(profile(0.95, 9.0));
  EXPECT_THAT(long_enough.also, ElementsAre(Action::kFile));
  EXPECT_THAT(long_enough.why, Contains(HasSubstr("leave 5.57 mm")));
}

TEST(CutterVerdict, CapsTheDropWhateverTheLimitsSay) {
  Limits limits = common();
  for (const double careless : {2.0, std::numeric_limits<double>::infinity(), kNan}) {
    limits.most_drop_mm.value = careless;
    EXPECT_EQ(of_profile(profile(0.95), limits).action, Action::kGaugeTooLow) << careless;
  }
}

TEST(CutterVerdict, PutsTooMuchDropBeforeEverythingElse) {
  CutterMeasurement c = profile(0.95, 3.5);
  c.chips = chipped(0.4).chips;
  c.edge_radius_um = with_u(90, 5);
  EXPECT_EQ(of_profile(c).action, Action::kGaugeTooLow);
  EXPECT_THAT(of_profile(c).also, ElementsAre(Action::kRetire));
}

TEST(CutterVerdict, DoesNotTrustADropNearTheMostAllowed) {
  const Verdict v = of_profile(profile(0.74));
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.why, Contains(HasSubstr("treat it as too low")));
  EXPECT_THAT(v.would_decide, Not(IsEmpty()));
}

TEST(CutterVerdict, NamesTheRemedyOfTheLargestShareOfTheUncertainty) {
  CutterMeasurement c = profile();
  const auto advice = [&](Source source) {
    c.gauge_drop_mm = Quantity{0.56, {{Source::kPose, 0.004}, {source, 0.02}}};
    const Verdict v = of_profile(c);
    EXPECT_EQ(v.action, Action::kUndecided);
    return v.would_decide.front();
  };
  EXPECT_THAT(advice(Source::kThickness), HasSubstr("top plates under the middle of the picture"));
  EXPECT_THAT(advice(Source::kEdge), HasSubstr("closer"));
  EXPECT_THAT(advice(Source::kStandOff), HasSubstr("--standoff"));
  EXPECT_THAT(advice(Source::kPrint), HasSubstr("check bars"));
}

// One veteran's rule: .025 in new, growing to .037 in at the rear rivet; capped at .035 in.
TEST(CutterVerdict, LetsTheSettingGrowWithTheSheetsLeaveUpToTheCap) {
  Limits limits = common();
  limits.growing_setting = GrowingSetting{};
  limits.most_drop_mm.value = kDropCapMm;
  EXPECT_EQ(of_profile(profile(0.64, 10)).action, Action::kLeave);
  EXPECT_EQ(of_profile(profile(0.64, 10), limits).action, Action::kLeave);
  EXPECT_EQ(of_profile(profile(0.64, 5), limits).action, Action::kLowerGauge);
  EXPECT_THAT(of_profile(profile(0.64, 5), limits).why.front(), HasSubstr("setting 0.89"));
  EXPECT_EQ(of_profile(profile(0.80, 10), limits).action, Action::kGaugeTooLow);  // right for a short one alone
  EXPECT_EQ(of_profile(profile(0.80, 5.5), limits).action, Action::kLeave);
  EXPECT_EQ(of_profile(profile(0.95, 4.6), limits).action, Action::kGaugeTooLow);
  CutterMeasurement unknown = profile(0.80);
  unknown.length_mm.reset();
  EXPECT_EQ(of_profile(unknown, limits).action, Action::kGaugeTooLow);
  unknown.length_mm = with_u(kNan, 0.01);
  EXPECT_EQ(of_profile(unknown, limits).action, Action::kGaugeTooLow);
}

// --- the length ------------------------------------------------------------------------------------------------

// Retired at 4 mm of top plate (makers' manuals); a cutter that needs more filing than it has is retired too.
TEST(CutterVerdict, RetiresAShortCutterAndOneThatFilingWouldMakeShort) {
  EXPECT_EQ(of_plan(plan(12, 3.9)).action, Action::kRetire);
  const Verdict needing = of_plan(chipped(0.2, 4.1));
  EXPECT_EQ(needing.action, Action::kRetire);
  // (0.20 mm of chip + 0.012 mm of rounding at its floor) / cos 30 = 0.245 mm along the chain (geometry).
  EXPECT_THAT(needing.why.front(), HasSubstr("leaves 3.86 mm"));
  EXPECT_THAT(needing.also, IsEmpty());
  EXPECT_EQ(of_plan(plan(12, 4.1)).action, Action::kLeave);
}

TEST(CutterVerdict, IsUndecidedNearTheEndOfLife) {
  const Verdict v = of_profile(profile(0.65, 4.02));
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.would_decide, Contains(HasSubstr("plan")));
}

TEST(CutterVerdict, DoesNotSayLeaveWithoutALength) {
  CutterMeasurement c = profile();
  c.length_mm.reset();
  c.missing = {"length: the rear end is hidden; uncover it"};
  const Verdict v = of_profile(c);
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.why, Contains("length: the rear end is hidden; uncover it"));
  EXPECT_THAT(v.would_decide, Not(IsEmpty()));
}

// --- the edge --------------------------------------------------------------------------------------------------

// Limits 25 and 40 micrometres: our proposal, no source.
TEST(CutterVerdict, TellsSharpWornAndDullApart) {
  EXPECT_EQ(of_plan(plan(12)).action, Action::kLeave);
  EXPECT_EQ(of_plan(plan(31)).action, Action::kTouchUp);
  EXPECT_EQ(of_plan(plan(60)).action, Action::kFile);
  EXPECT_THAT(of_plan(plan(60)).why.front(), HasSubstr("dull"));
}

TEST(CutterVerdict, IsUndecidedBetweenWornAndDullButSaysTouchUp) {
  const Verdict v = of_plan(plan(40));
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.also, ElementsAre(Action::kTouchUp));
  EXPECT_THAT(v.would_decide, Not(IsEmpty()));
}

TEST(CutterVerdict, FilesAnEdgeThatIsDullInPlaces) {
  CutterMeasurement c = plan(15);
  c.edge_radius_p90_um = with_u(70, 5);
  EXPECT_EQ(of_plan(c).action, Action::kFile);
  EXPECT_THAT(of_plan(c).why.front(), HasSubstr("in places"));
}

TEST(CutterVerdict, LeavesAnEdgeWhoseRoundingWouldHaveBeenSeen) {
  CutterMeasurement c = plan();
  c.edge_radius_um.reset();
  c.edge_radius_limit_um = 35;
  EXPECT_EQ(of_plan(c).action, Action::kLeave);
  EXPECT_THAT(of_plan(c).why, Contains(HasSubstr("no rounding seen above 35 um")));
  c.edge_radius_limit_um = 55;
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
  EXPECT_THAT(of_plan(c).would_decide, Contains(HasSubstr("closer")));
  c.edge_radius_limit_um = kNan;
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
}

TEST(CutterVerdict, AsksForOtherLightWhereTheEdgeWasNotLit) {
  CutterMeasurement c = plan();
  c.edge_radius_um.reset();
  c.missing = {"edge radius: not lit; put the lamp ahead of the cutter"};
  const Verdict v = of_plan(c);
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.would_decide, Contains(HasSubstr("light")));
  EXPECT_THAT(v.why, Contains(c.missing[0]));
}

// Chip depth that matters, 0.10 mm: our proposal, no source.
TEST(CutterVerdict, FilesAChipOutAtLeastAsDeepAsItIs) {
  const Verdict v = of_plan(chipped(0.30));
  EXPECT_EQ(v.action, Action::kFile);
  EXPECT_THAT(v.why.front(), HasSubstr("at least 0.36 mm along the chain"));  // (0.30 + 0.012) / cos 30
  EXPECT_EQ(of_plan(chipped(0.05)).action, Action::kLeave);
  EXPECT_EQ(of_plan(chipped(0.10)).action, Action::kUndecided);
}

// A corner broken off is told as such, and what it took along the chain beside the length that is left.
TEST(CutterVerdict, TellsABrokenCornerAndWhatItTook) {
  CutterMeasurement c = chipped(0.50, 7.7);
  c.chips[0].at_mm = 0;
  c.chips[0].at_corner = true;
  c.whole_length_mm = with_u(8.0, 0.03);
  c.corner_loss_mm = with_u(0.3, 0.08);
  const Verdict v = of_plan(c);
  EXPECT_EQ(v.action, Action::kFile);
  EXPECT_THAT(v.why.front(), HasSubstr("working corner broken off: 0.50 +- 0.02 mm deep"));
  EXPECT_THAT(v.why, Contains(HasSubstr("its working corner lost 0.30 +- 0.16 mm")));
  EXPECT_THAT(v.why, Contains(HasSubstr("would meet at 8.00 mm")));
  c.corner_loss_mm = with_u(0.1, 0.08);  // no more than measuring it leaves open
  EXPECT_THAT(of_plan(c).why, Not(Contains(HasSubstr("lost"))));
}

TEST(CutterVerdict, DoesNotCallAnUnsearchedEdgeWhole) {
  CutterMeasurement c = plan();
  c.chips_searched = false;
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
}

// Filing back lowers the top: at 5 degrees 0.30 mm take 0.026 mm of the drop (arithmetic).
TEST(CutterVerdict, LowersTheGaugeAfterFilingByWhatTheTopHasFallenToo) {
  CutterMeasurement c = profile(0.50);
  c.chips = chipped(0.30).chips;
  c.chips_searched = true;
  const Verdict v = of_profile(c);
  EXPECT_EQ(v.action, Action::kFile);
  EXPECT_THAT(v.also, ElementsAre(Action::kLowerGauge));
  EXPECT_THAT(v.why, Contains(HasSubstr("lower the gauge by about 0.18 mm")));
}

// --- angles ----------------------------------------------------------------------------------------------------

// 25 to 30 degrees, 35 at the most: South African Chainsaw Safety and Operating Handbook (ICFR), MSA.
TEST(CutterVerdict, FilesAnEdgeAngleOutsideItsLimits) {
  CutterMeasurement c = plan();
  for (const double wrong : {20.0, 38.0}) {
    c.edge_angle_rad = with_u(wrong * kDeg, 0.25 * kDeg);
    EXPECT_EQ(of_plan(c).action, Action::kFile) << wrong;
  }
  c.edge_angle_rad = with_u(35 * kDeg, 0.25 * kDeg);
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
}

TEST(CutterVerdict, JudgesTheHookAgainstTheSheetsOwnLimitAlone) {
  CutterMeasurement c = profile();
  c.hook_angle_rad = with_u(95 * kDeg, 0.5 * kDeg);
  EXPECT_EQ(of_profile(c).action, Action::kLeave);
  Limits limits = common();
  limits.most_hook_rad = Limit{85 * kDeg, "chain sheet loop.toml"};
  EXPECT_EQ(of_profile(c, limits).action, Action::kFile);
}

// --- properties ------------------------------------------------------------------------------------------------

int danger(Action action) { return action == Action::kGaugeTooLow ? 2 : action == Action::kUndecided ? 1 : 0; }

TEST(CutterVerdict, MoreDropIsNeverSafer) {
  for (const Wood wood : {Wood::kHardOrFrozen, Wood::kSoftUnfrozen}) {
    const Limits limits = common(wood);
    int last = 0;
    for (double drop = 0.65; drop < 1.3; drop += 0.005) {
      const int now = danger(of_profile(profile(drop), limits).action);
      EXPECT_GE(now, last) << drop;
      last = now;
    }
    EXPECT_EQ(last, 2);
  }
}

TEST(CutterVerdict, NeverPassesAValueThatIsNoNumber) {
  CutterMeasurement c = profile();
  c.gauge_drop_mm = with_u(kNan, 0.01);
  EXPECT_EQ(of_profile(c).action, Action::kUndecided);
  c.gauge_drop_mm = with_u(0.65, kNan);
  EXPECT_EQ(of_profile(c).action, Action::kUndecided);
  c = profile();
  c.length_mm = with_u(kNan, 0.01);
  EXPECT_EQ(of_profile(c).action, Action::kUndecided);
  c = plan();
  c.edge_radius_um = with_u(kNan, 1);
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
  EXPECT_EQ(of_plan(chipped(kNan)).action, Action::kUndecided);
  c = plan();
  c.edge_angle_rad = with_u(kNan, 0.01);
  EXPECT_EQ(of_plan(c).action, Action::kUndecided);
}

TEST(CutterVerdict, OfACutterThatIsOnlyNamedAsksToShiftTheChain) {
  CutterMeasurement c;
  c.over_field = false;
  const Verdict v = of_profile(c);
  EXPECT_EQ(v.action, Action::kUndecided);
  EXPECT_THAT(v.would_decide, Contains(HasSubstr("shift the chain")));
  EXPECT_THAT(v.why, Not(IsEmpty()));

  c.missing = {"not measured: another outline fits it almost as well: tuck a slip of paper under the edge"};
  EXPECT_THAT(of_plan(c).why, Contains(HasSubstr("tuck a slip")));
  EXPECT_THAT(of_plan(c).would_decide, IsEmpty());
}

// Whole decisions, not single comparisons: cutters whose truth is right at a limit are told the wrong thing in 5 % of
// photographs at the most, on either side.
TEST(CutterVerdict, DecidesWronglyInFivePerCentAtTheMost) {
  std::mt19937 random(12);
  std::normal_distribution<double> normal(0, 1);
  constexpr int kRuns = 10000;
  constexpr double kMost = 0.05 + 3 * 0.0022;  // three sigma of 10000 runs
  const Limits limits = common();
  int let_pass = 0;
  int condemned = 0;
  int retired = 0;
  int kept = 0;
  for (int i = 0; i < kRuns; ++i) {
    const Action drop = of_profile(profile(limits.most_drop_mm.value + 0.012 * normal(random)), limits).action;
    let_pass += drop == Action::kLeave;
    condemned += drop == Action::kGaugeTooLow;
    const Action length = of_profile(profile(0.65, 4.0 + 0.04 * normal(random)), limits).action;
    retired += length == Action::kRetire;
    kept += length == Action::kLeave;
  }
  for (const int wrong : {let_pass, condemned, retired, kept}) {
    EXPECT_LE(static_cast<double>(wrong) / kRuns, kMost);
    EXPECT_GT(wrong, kRuns / 40);  // the guard band is no wider than it says
  }
}

}  // namespace
}  // namespace glintline
