#include "judge/common_practice.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace glintline {
namespace {

using ::testing::HasSubstr;

constexpr double kDeg = M_PI / 180;
constexpr double kExact = 1e-12;

ChainSheet of_pitch(double pitch_mm) {
  ChainSheet sheet;
  sheet.source = "loop.toml";
  sheet.geometry.pitch_mm = pitch_mm;
  return sheet;
}

// Bayerische Waldbauernschule, page on saw chain, and makers' manuals: 0.45 mm for 1/4 in low profile, 0.65 mm for
// 1/4, .325 and 3/8 in, 0.80 mm for .404 in.
TEST(CommonPractice, SetsTheGaugeByPitch) {
  for (const double pitch : {6.35, 8.25, 8.255, 9.32, 9.525}) {
    EXPECT_EQ(limits_of(of_pitch(pitch)).gauge_setting_mm.value, 0.65) << pitch;
  }
  EXPECT_EQ(limits_of(of_pitch(10.26)).gauge_setting_mm.value, 0.80);
  ChainSheet small = of_pitch(6.35);
  small.low_profile = true;
  EXPECT_EQ(limits_of(small).gauge_setting_mm.value, 0.45);
  EXPECT_EQ(limits_of({}).gauge_setting_mm.value, 0.65);
}

// A US logger-training brochure: never over .035 in.
TEST(CommonPractice, NeverAllowsMoreDropThanTheCap) {
  EXPECT_NEAR(kDropCapMm, 0.035 * 25.4, 0.005);  // two decimals
  ChainSheet bold = of_pitch(9.525);
  bold.limits.gauge_setting_mm = 1.2;
  bold.limits.most_drop_mm = 1.5;
  EXPECT_EQ(limits_of(bold).gauge_setting_mm.value, kDropCapMm);
  EXPECT_EQ(limits_of(bold).most_drop_mm.value, kDropCapMm);
  EXPECT_THAT(limits_of(bold).most_drop_mm.source, HasSubstr("capped"));
  for (const double pitch : {6.35, 9.525, 10.26}) {
    for (const Wood wood : {Wood::kHardOrFrozen, Wood::kSoftUnfrozen}) {
      ChainSheet sheet = of_pitch(pitch);
      sheet.wood = wood;
      EXPECT_LE(limits_of(sheet).most_drop_mm.value, kDropCapMm);
    }
  }
}

// Bayerische Waldbauernschule: up to 0.80 mm in soft, unfrozen wood only.
TEST(CommonPractice, AllowsMoreDropInSoftUnfrozenWoodWithCaution) {
  ChainSheet sheet = of_pitch(9.525);
  EXPECT_FALSE(limits_of(sheet).caution_drop_mm);
  EXPECT_LT(limits_of(sheet).most_drop_mm.value, 0.80);
  sheet.wood = Wood::kSoftUnfrozen;
  ASSERT_TRUE(limits_of(sheet).caution_drop_mm);
  EXPECT_EQ(limits_of(sheet).caution_drop_mm->value, 0.80);
}

// South African Chainsaw Safety and Operating Handbook (ICFR), MSA: 25 to 30 degrees, 35 at the most. Makers'
// manuals: retired at 4 mm.
TEST(CommonPractice, NamesASourceBesideEveryLimit) {
  const Limits limits = limits_of({});
  EXPECT_NEAR(limits.least_edge_angle_rad.value, 25 * kDeg, kExact);
  EXPECT_NEAR(limits.most_edge_angle_rad.value, 35 * kDeg, kExact);
  EXPECT_EQ(limits.retired_length_mm.value, 4.0);
  for (const Limit& limit :
       {limits.gauge_setting_mm, limits.gauge_tolerance_mm, limits.most_drop_mm, limits.sharp_radius_um,
        limits.dull_radius_um, limits.chip_depth_mm, limits.retired_length_mm, limits.least_edge_angle_rad,
        limits.most_edge_angle_rad, limits.length_spread_warn_mm, limits.length_spread_act_mm,
        limits.left_right_warn_rad, limits.left_right_act_rad}) {
    EXPECT_FALSE(limit.source.empty());
    EXPECT_GT(limit.value, 0);
  }
}

TEST(CommonPractice, GivesWayToTheSheetAndNamesIt) {
  ChainSheet sheet = of_pitch(9.525);
  sheet.limits.gauge_setting_mm = 0.76;
  sheet.limits.retired_length_mm = 3.2;
  sheet.limits.dull_radius_um = 30;
  const Limits limits = limits_of(sheet);
  EXPECT_EQ(limits.gauge_setting_mm.value, 0.76);
  EXPECT_EQ(limits.gauge_setting_mm.source, "chain sheet loop.toml");
  EXPECT_EQ(limits.retired_length_mm.value, 3.2);
  EXPECT_EQ(limits.dull_radius_um.value, 30);
  EXPECT_NEAR(limits.most_drop_mm.value, 0.86, kExact);  // follows the sheet's setting
}

TEST(CommonPractice, NeverContradictsTheSheet) {
  ChainSheet sheet = of_pitch(9.525);
  sheet.limits.sharp_radius_um = 60;
  sheet.limits.most_edge_angle_rad = 15 * kDeg;
  sheet.limits.length_spread_act_mm = 0.1;
  sheet.limits.most_drop_mm = 0.5;
  const Limits limits = limits_of(sheet);
  EXPECT_EQ(limits.sharp_radius_um.value, 60);
  EXPECT_EQ(limits.dull_radius_um.value, 60);
  EXPECT_EQ(limits.most_edge_angle_rad.value, 15 * kDeg);
  EXPECT_EQ(limits.least_edge_angle_rad.value, 15 * kDeg);
  EXPECT_EQ(limits.length_spread_warn_mm.value, 0.1);
  EXPECT_EQ(limits.gauge_setting_mm.value, 0.5);
  EXPECT_EQ(limits.most_drop_mm.value, 0.5);
}

// A ripping chain is filed to 10 degrees: judging it by a cross-cut chain's angles would be nonsense.
TEST(CommonPractice, JudgesTheEdgeAngleAroundTheSheetsFilingAngle) {
  ChainSheet sheet = of_pitch(9.525);
  sheet.filing_angle_rad = 10 * kDeg;
  EXPECT_NEAR(limits_of(sheet).least_edge_angle_rad.value, 5 * kDeg, kExact);
  EXPECT_NEAR(limits_of(sheet).most_edge_angle_rad.value, 15 * kDeg, kExact);
}

// .404 in is 10.26 mm, 3/8 in 9.525 (trade tables); their gauge settings 0.80 and 0.65 mm (makers' manuals).
TEST(CommonPractice, TakesTheMeasuredPitchOnlyWhereItCanBeNoOther) {
  const ChainSheet silent;
  const auto setting = [&](double pitch_mm, double u_mm) {
    return limits_of(silent, Quantity{pitch_mm, {{Source::kEdge, u_mm}}}).gauge_setting_mm.value;
  };
  EXPECT_EQ(setting(10.26, 0.1), 0.80);
  EXPECT_EQ(setting(9.525, 0.1), 0.65);
  EXPECT_EQ(setting(10.26, 0.3), limits_of(silent).gauge_setting_mm.value);
  EXPECT_EQ(limits_of(of_pitch(9.525), Quantity{10.26, {{Source::kEdge, 0.05}}}).gauge_setting_mm.value, 0.65);
  EXPECT_EQ(limits_of(silent, std::nullopt).gauge_setting_mm.value, limits_of(silent).gauge_setting_mm.value);
}

}  // namespace
}  // namespace glintline
