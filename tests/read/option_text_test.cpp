#include "read/option_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "card/layout.h"

namespace glintline {
namespace {

using ::testing::HasSubstr;

constexpr double kExact = 1e-12;

TEST(OptionText, NominalBarIsTheOneTheSheetCarries) { EXPECT_EQ(kNominalBarMm, kCheckBarMm); }

TEST(StandOff, TakesAValueAndWhatItMayBeOffBy) {
  for (const char* text : {"5.5+-0.3", "5.5 +- 0.3 mm", "5.5 mm +/- 0.3 mm",
                           "5.5\xC2\xB1"
                           "0.3"}) {
    const auto stand_off = parse_stand_off(text);
    ASSERT_TRUE(stand_off) << text;
    EXPECT_EQ(stand_off->value_mm, 5.5);
    EXPECT_NEAR(stand_off->u_mm, 0.15, kExact);  // u95 is two standard uncertainties (JCGM 100:2008, 6.3.3)
  }
  EXPECT_NEAR(parse_stand_off("5.5")->u_mm, 0.5 * kStandOffU95Mm, kExact);
  EXPECT_EQ(parse_stand_off("0+-0")->u_mm, 0);
}

TEST(StandOff, RefusesWhatIsNoLength) {
  for (const char* text : {"", "abc", "5.5.5", "5.5+-", "+-0.3", "5.5+-x", "5.5+--0.3", "nan", "inf", "1e9", "5.5 5.5",
                           "5.5+-nan", "0x10"}) {
    const auto stand_off = parse_stand_off(text);
    ASSERT_FALSE(stand_off) << text;
    EXPECT_EQ(stand_off.error().fault, Fault::kBadOption);
    EXPECT_FALSE(stand_off.error().what.empty());
  }
}

TEST(StandOff, AsksForAPointInsteadOfAComma) {
  EXPECT_THAT(parse_stand_off("5,5").error().what, HasSubstr("point, not a comma"));
}

TEST(Printed, IsTheMeasuredOverTheNominalBar) {
  const auto print = parse_printed("99.4x99.7");
  ASSERT_TRUE(print);
  EXPECT_NEAR(print->x, 0.994, kExact);
  EXPECT_NEAR(print->y, 0.997, kExact);
  EXPECT_NEAR(print->u_rel, 0.5 * kBarU95Mm / 100, kExact);
  EXPECT_TRUE(print->measured);
  EXPECT_NEAR(parse_printed("99.4 x 99.7 +- 0.4")->u_rel, 0.002, kExact);
  EXPECT_NEAR(parse_printed("99.4\xC3\x97"
                            "99.7 mm")
                  ->y,
              0.997, kExact);
  EXPECT_NEAR(parse_printed("49.8x74.9", Point2(50, 75))->x, 0.996, kExact);
}

TEST(Printed, RefusesWhatNoPrinterDoes) {
  for (const char* text :
       {"99.4", "99.4x", "x99.7", "9.94x9.97", "3.91x3.93", "0x0", "-99x99", "nanx99.7", "99.4x99.7x1"}) {
    EXPECT_FALSE(parse_printed(text)) << text;
  }
  EXPECT_THAT(parse_printed("3.91x3.93").error().what, HasSubstr("millimetres"));
}

TEST(NominalBars, MayBeOneLengthForBoth) {
  EXPECT_EQ(*parse_nominal_bars("100"), Point2(100, 100));
  EXPECT_EQ(*parse_nominal_bars("100x60"), Point2(100, 60));
  EXPECT_FALSE(parse_nominal_bars("0"));
  EXPECT_FALSE(parse_nominal_bars("long"));
}

// Nominal pitches: 3/8 in is 9.525 mm (exact: the inch is 25.4 mm, ISO 80000-3).
TEST(Pitch, NoticesInchesAndMicrometres) {
  EXPECT_EQ(*parse_pitch("9.32"), 9.32);
  EXPECT_THAT(parse_pitch("0.375").error().what, HasSubstr("0.375 in is 9.525 mm"));
  EXPECT_THAT(parse_pitch("9525").error().what, HasSubstr("9525 um is 9.525 mm"));
  EXPECT_THAT(parse_pitch("3/8").error().what, HasSubstr("not a number"));
  EXPECT_FALSE(parse_pitch("-9.5"));
  EXPECT_FALSE(parse_pitch("nan"));
}

}  // namespace
}  // namespace glintline
