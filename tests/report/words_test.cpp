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

}  // namespace
}  // namespace glintline
