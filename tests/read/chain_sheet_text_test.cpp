#include "read/chain_sheet_text.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "read/chain_sheet_file.h"

namespace glintline {
namespace {

using ::testing::HasSubstr;

TEST(ChainSheetText, OfNoAnswersIsAValidSheetThatSaysNothing) {
  const auto text = chain_sheet_text({});
  ASSERT_TRUE(text.ok()) << text.error().what;
  const auto sheet = parse_chain_sheet(*text, "loop.toml");
  ASSERT_TRUE(sheet.ok());
  EXPECT_FALSE(sheet->geometry.pitch_mm);
  EXPECT_FALSE(sheet->limits.growing_setting);
  for (const SheetQuestion& question : sheet_questions()) EXPECT_THAT(*text, HasSubstr(question.question));
}

TEST(ChainSheetText, ComesBackAsItWasAnswered) {
  const auto text = chain_sheet_text({{"name", "Ridge \"old\""},
                                      {"pitch_mm", "9.32"},
                                      {"low_profile", "false"},
                                      {"drive_links", "70"},
                                      {"first_cutter", "right"},
                                      {"counting", "ahead"},
                                      {"alike_after", "20"},
                                      {"limits.retired_length_mm", "3.5"},
                                      {"limits.growing_setting.new_mm", "0.6"}});
  ASSERT_TRUE(text.ok()) << text.error().what;
  const auto sheet = parse_chain_sheet(*text, "loop.toml");
  ASSERT_TRUE(sheet.ok()) << sheet.error().what;
  EXPECT_EQ(sheet->name, "Ridge \"old\"");
  EXPECT_EQ(sheet->geometry.pitch_mm, 9.32);
  EXPECT_EQ(sheet->drive_links, 70);
  EXPECT_EQ(sheet->first_cutter, Hand::kRight);
  EXPECT_EQ(sheet->counting, Counting::kAhead);
  EXPECT_EQ(sheet->alike_after, 20);
  EXPECT_EQ(sheet->limits.retired_length_mm, 3.5);
  EXPECT_EQ(sheet->limits.growing_setting->new_mm, 0.6);
}

TEST(ChainSheetText, RefusesWhatReadingWouldRefuse) {
  struct Case {
    const char* key;
    const char* value;
    const char* what;
  };
  for (const Case& c : {Case{"pitch_mm", "0.375", "0.375 in is 9.525 mm"},
                        {"pitch_mm", "9,32", "number"},
                        {"drive_links", "72.5", "whole number"},
                        {"sequence", "half", "full, semi-skip"},
                        {"filing_angle_deg", "60", "outside"},
                        {"low_profile", "yes", "true or false"},
                        {"limits.retired_length_mm", "4000", "4000 um is 4"}}) {
    const auto text = chain_sheet_text({{c.key, c.value}});
    ASSERT_FALSE(text.ok()) << c.key;
    EXPECT_THAT(text.error().what, HasSubstr(c.what)) << c.key;
  }
}

TEST(ChainSheetFile, RefusesAJoinBeyondTheLoop) {
  const auto sheet = parse_chain_sheet("drive_links = 72\nalike_after = 36\n", "loop.toml");
  ASSERT_FALSE(sheet.ok());
  EXPECT_THAT(sheet.error().what, HasSubstr("count of cutters, 36"));
  EXPECT_THAT(sheet.error().where, HasSubstr("loop.toml:2"));
  EXPECT_TRUE(parse_chain_sheet("drive_links = 70\nalike_after = 20\n", "loop.toml").ok());
  EXPECT_FALSE(parse_chain_sheet("counting = \"forwards\"\n", "loop.toml").ok());
}

}  // namespace
}  // namespace glintline
