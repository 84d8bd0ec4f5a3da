#include "report/text_layout.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

namespace glintline {
namespace {

using ::testing::ElementsAre;

constexpr const char* kReplaced = "\xEF\xBF\xBD";

TEST(Printable, KeepsValidTextAndReplacesTheRest) {
  EXPECT_EQ(printable("K\xC3\xB6rper \xE2\x82\xAC \xF0\x9F\xAA\x9A"), "K\xC3\xB6rper \xE2\x82\xAC \xF0\x9F\xAA\x9A");
  EXPECT_EQ(printable("a\x1b[31m\n"), "a [31m ");
  EXPECT_EQ(printable("a\xFF"), std::string("a") + kReplaced);
}

// The Unicode Standard, table 3-8: ill-formed sequences (overlong, surrogate, beyond U+10FFFF, cut short).
TEST(Printable, TakesNoIllFormedSequence) {
  for (const char* bytes :
       {"\xC0\xAF", "\xE0\x9F\xBF", "\xED\xA0\x80", "\xF4\x91\x92\x93", "\xF0\x80\x80\x41", "\xE2\x82"}) {
    EXPECT_NE(printable(bytes).find(kReplaced), std::string::npos);
  }
}

TEST(Ascii, SpellsTheSignsWeUse) {
  EXPECT_EQ(ascii("0.5 \xC2\xB1 0.1 \xC2\xB5m, 3\xC2\xB0"), "0.5 +- 0.1 um, 3 deg");
  EXPECT_EQ(ascii("\xE6\xBC\xA2"), "?");
}

// Widths by Unicode Standard Annex 11 (East Asian Width) and the general category Mn.
TEST(DisplayWidth, CountsColumnsNotBytes) {
  EXPECT_EQ(display_width("abc"), 3);
  EXPECT_EQ(display_width("\xC2\xB1"), 1);
  EXPECT_EQ(display_width("\xE6\xBC\xA2\xE5\xAD\x97"), 4);
  EXPECT_EQ(display_width("e\xCC\x81"), 1);
  EXPECT_EQ(padded("\xE6\xBC\xA2", 4), "\xE6\xBC\xA2  ");
  EXPECT_EQ(padded("ab", 4, true), "  ab");
}

TEST(Wrapped, BreaksAtSpacesOnly) {
  const auto columns = [](const std::string& text) { return static_cast<double>(display_width(text)); };
  EXPECT_THAT(wrapped("one two three", 7, columns), ElementsAre("one two", "three"));
  EXPECT_THAT(wrapped("uncommonly long", 5, columns), ElementsAre("uncommonly", "long"));
  EXPECT_THAT(wrapped("", 5, columns), ElementsAre(""));
}

}  // namespace
}  // namespace glintline
