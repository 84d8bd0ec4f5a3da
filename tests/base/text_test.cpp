#include "base/text.h"

#include <gtest/gtest.h>

#include <clocale>
#include <cmath>
#include <limits>

namespace glintline {
namespace {

TEST(Text, FixedRoundsToTheAskedPlaces) {
  EXPECT_EQ(fixed(0.6449, 2), "0.64");
  EXPECT_EQ(fixed(0.6451, 2), "0.65");
  EXPECT_EQ(fixed(-1.25, 1), "-1.2");  // a tie in binary goes to the even digit
  EXPECT_EQ(fixed(12, 0), "12");
  EXPECT_EQ(fixed(0, 3), "0.000");
}

TEST(Text, FixedNeverPrintsNan) {
  EXPECT_EQ(fixed(std::nan(""), 2), "?");
  EXPECT_EQ(fixed(std::numeric_limits<double>::infinity(), 2), "?");
  EXPECT_EQ(fixed(-std::numeric_limits<double>::infinity(), 0), "?");
}

TEST(Text, FixedHoldsVeryLargeNumbersOrSaysThatItCannot) {
  EXPECT_EQ(fixed(1e20, 1), "100000000000000000000.0");
  EXPECT_EQ(fixed(1e300, 2), "?");
}

TEST(Text, FixedUsesThePointWhateverTheLocale) {
  const std::string before = std::setlocale(LC_ALL, nullptr);
  bool comma = false;
  for (const char* name : {"de_DE.UTF-8", "fr_FR.UTF-8", "sv_SE.UTF-8"}) {
    if (!comma && std::setlocale(LC_ALL, name)) comma = std::localeconv()->decimal_point[0] == ',';
  }
  const std::string text = fixed(0.5, 2);
  std::setlocale(LC_ALL, before.c_str());
  if (!comma) GTEST_SKIP() << "no locale with a decimal comma is installed here";
  EXPECT_EQ(text, "0.50");
}

TEST(Text, CountedTakesAnSWhereEnglishWantsOne) {
  EXPECT_EQ(counted(0, "cutter"), "0 cutters");
  EXPECT_EQ(counted(1, "cutter"), "1 cutter");
  EXPECT_EQ(counted(2, "rivet head"), "2 rivet heads");
}

TEST(Text, RoundsUncertaintiesUp) {
  EXPECT_EQ(rounded_up(0.0301, 2), "0.03");
  EXPECT_EQ(rounded_up(0.031, 2), "0.04");
  EXPECT_EQ(rounded_up(0.03, 2), "0.03");
  EXPECT_EQ(rounded_up(0.001, 2), "0.01");
  EXPECT_EQ(rounded_up(12.2, 0), "13");
}

}  // namespace
}  // namespace glintline
