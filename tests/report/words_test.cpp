#include "report/words.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "report/sample_inspection.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)

TEST(Words, AnUncertaintyIsRoundedUpAndNeverReadsAsNothing) {
  // JCGM 100:2008, 7.2.6: it may be appropriate to round uncertainties up.
  EXPECT_EQ(with_u95(quantity(0.5, 0.0104), 2, "+-"), "0.50+-0.03");
  EXPECT_EQ(with_u95(quantity(0.5, 0.0001), 2, "+-"), "0.50+-0.01");
  EXPECT_EQ(with_u95(quantity(0.5, 0.01502), 2, "+-"), "0.50+-0.03") << "a hair over does not cost a digit";
}

TEST(Words, DegreesScaleTheBudgetToo) {
  const Quantity degrees = in_degrees(quantity(M_PI / 6, M_PI / 180));
  EXPECT_NEAR(degrees.value, 30, 1e-9);
  EXPECT_NEAR(degrees.u(), 1, 1e-9);
}

TEST(Words, ReasonsAreSaidOnce) {
  Inspection inspection = profile_inspection();
  InspectedCutter& cutter = inspection.cutters[0];
  cutter.verdict.why.push_back(cutter.measured.missing[0]);
  EXPECT_THAT(reasons_of(cutter), ::testing::ElementsAre(cutter.verdict.why[0], cutter.measured.missing[0]));
}

TEST(Words, AnUndecidedCutterSaysWhatWouldDecideIt) {
  InspectedCutter cutter = plan_inspection().cutters[0];
  cutter.verdict.why = {"one", "two", "three"};
  cutter.verdict.would_decide = {"closer", "sharper", "other light"};
  EXPECT_THAT(main_reasons_of(cutter), ::testing::ElementsAre("one", "two", "also: file", "would decide it: closer",
                                                              "would decide it: sharper"));
}

// A blank in the table is explained beside it; what another view must show is not.
TEST(Words, TheMainReasonsSayWhyALengthIsMissing) {
  InspectedCutter cutter = profile_inspection().cutters[0];
  cutter.verdict.why = {"one", "two", "three"};
  cutter.measured.missing = {"length: its end is hidden", "edge radius: needs a picture from above"};
  EXPECT_THAT(main_reasons_of(cutter), ::testing::IsSupersetOf({"one", "two", "length: its end is hidden"}));
  EXPECT_THAT(main_reasons_of(cutter), ::testing::Not(::testing::Contains("edge radius: needs a picture from above")));
}

TEST(Words, UnnumberedCuttersAreLetteredInOrder) {
  Inspection inspection = profile_inspection();
  inspection.cutters.push_back(inspection.cutters[1]);
  EXPECT_EQ(label_of(inspection, inspection.cutters[0]), "7");
  EXPECT_EQ(label_of(inspection, inspection.cutters[1]), "A");
  EXPECT_EQ(label_of(inspection, inspection.cutters[2]), "B");
}

TEST(Words, SignsReplaceTheirPlainSpelling) {
  EXPECT_EQ(with_sign("20 +- 4 um: dull over 40 um (umbrella um"),
            "20 \xC2\xB1 4 \xC2\xB5m: dull over 40 \xC2\xB5m (umbrella um");
  EXPECT_EQ(with_sign("dull over 40 um"), "dull over 40 \xC2\xB5m");
}

}  // namespace
}  // namespace glintline
