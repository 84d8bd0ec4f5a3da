#include "read/chain_sheet_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "read/written_file.h"

namespace glintline {
namespace {

using ::testing::EndsWith;
using ::testing::HasSubstr;
using testing::WrittenFile;

constexpr double kDeg = M_PI / 180;
constexpr double kExact = 1e-12;

Result<ChainSheet> sheet_of(const std::string& text) {
  const WrittenFile file("loop.toml", text);
  return read_chain_sheet(file.path());
}

TEST(ChainSheetFile, MayBeEmpty) {
  const auto sheet = sheet_of("");
  ASSERT_TRUE(sheet);
  EXPECT_EQ(sheet->name, "loop");
  EXPECT_EQ(sheet->source, "loop.toml");
  EXPECT_FALSE(sheet->geometry.pitch_mm);
  EXPECT_EQ(sheet->wood, Wood::kHardOrFrozen);
}

TEST(ChainSheetFile, HoldsWhatTheMakersPapersSay) {
  const auto sheet = sheet_of(R"(
name = "Loop 7"
pitch_mm = 9.32
low_profile = true
drive_link_gauge_mm = 1.3
drive_links = 52
sequence = "semi-skip"
first_cutter = "right"
corner = "semi-chisel"
file_diameter_mm = 4.0
filing_angle_deg = 25
wood = "soft-unfrozen"
[parts]
top_plate_width_mm = "5.2+-0.2"
side_plate_mm = 1.4
[limits]
most_drop_mm = 0.8
retired_length_mm = 3.2
most_hook_deg = 85
[limits.growing_setting]
new_mm = 0.6
)");
  ASSERT_TRUE(sheet) << sheet.error().what;
  EXPECT_EQ(sheet->name, "Loop 7");
  EXPECT_EQ(sheet->geometry.pitch_mm, 9.32);
  EXPECT_TRUE(sheet->low_profile);
  EXPECT_EQ(sheet->drive_links, 52);
  EXPECT_EQ(sheet->sequence, Sequence::kSemiSkip);
  EXPECT_EQ(sheet->first_cutter, Hand::kRight);
  EXPECT_EQ(sheet->geometry.chisel, false);
  EXPECT_NEAR(*sheet->filing_angle_rad, 25 * kDeg, kExact);
  EXPECT_EQ(sheet->wood, Wood::kSoftUnfrozen);
  EXPECT_EQ(sheet->geometry.top_plate_width->value_mm, 5.2);
  EXPECT_NEAR(sheet->geometry.top_plate_width->u_mm, 0.1, kExact);
  EXPECT_NEAR(sheet->geometry.side_plate->value_mm, 1.4, kExact);
  EXPECT_GT(sheet->geometry.side_plate->u_mm, 0);
  EXPECT_EQ(sheet->limits.most_drop_mm, 0.8);
  EXPECT_NEAR(*sheet->limits.most_hook_rad, 85 * kDeg, kExact);
  EXPECT_EQ(sheet->limits.growing_setting->new_mm, 0.6);
  EXPECT_EQ(sheet->limits.growing_setting->worn_mm, GrowingSetting{}.worn_mm);
  EXPECT_FALSE(sheet->limits.gauge_setting_mm);
}

TEST(ChainSheetFile, OfTheExampleIsValid) {
  const auto sheet = read_chain_sheet(std::filesystem::path(GLINTLINE_SOURCE_DIR) / "calib/example-chain.toml");
  ASSERT_TRUE(sheet) << sheet.error().what;
  EXPECT_EQ(sheet->drive_links, 72);
}

struct Wrong {
  const char* text;
  const char* what;
  const char* where;
};

class WrongSheet : public ::testing::TestWithParam<Wrong> {};

TEST_P(WrongSheet, IsRefusedWithFileLineAndRemedy) {
  const auto sheet = sheet_of(GetParam().text);
  ASSERT_FALSE(sheet);
  EXPECT_EQ(sheet.error().fault, Fault::kBadOption);
  EXPECT_THAT(sheet.error().what, HasSubstr(GetParam().what));
  EXPECT_EQ(sheet.error().what.find('\n'), std::string::npos);
  EXPECT_THAT(sheet.error().where, EndsWith(GetParam().where));
}

INSTANTIATE_TEST_SUITE_P(
    ChainSheetFile, WrongSheet,
    ::testing::Values(Wrong{"pitch_mm = 0.375", "0.375 in is 9.525 mm", "loop.toml:1"},
                      Wrong{"\npitch_mm = 9525", "9525 um is 9.525 mm", "loop.toml:2"},
                      Wrong{"pitch_mm = nan", "lies outside", "loop.toml:1"},
                      Wrong{"pitch_mm = -9.5", "lies outside", "loop.toml:1"},
                      Wrong{"pitch_mm = \"9.5\"", "without quotation marks", "loop.toml:1"},
                      Wrong{"pitsch_mm = 9.525", "pitsch_mm is not known here", "loop.toml:1"},
                      Wrong{"pitch_mm = ", "not readable as TOML", "loop.toml:1"},
                      Wrong{"pitch_mm = 9.5\npitch_mm = 9.5", "not readable as TOML", "loop.toml:2"},
                      Wrong{"sequence = \"half\"", "full, semi-skip, full-skip", "loop.toml:1"},
                      Wrong{"drive_links = 7.5", "whole number", "loop.toml:1"},
                      Wrong{"drive_links = 4000000000", "whole number", "loop.toml:1"},
                      Wrong{"filing_angle_deg = 60", "lies outside 0 to 45 degrees", "loop.toml:1"},
                      Wrong{"low_profile = 1", "true or false", "loop.toml:1"},
                      Wrong{"limits = 3", "must be a section", "loop.toml:1"},
                      Wrong{"[limits]\ngauge_setting_mm = 0.025", "0.025 in is 0.635 mm", "loop.toml:2"},
                      Wrong{"[limits]\ngauge_setting_mm = 650", "650 um is 0.65 mm", "loop.toml:2"},
                      Wrong{"[limits]\ngauge_setting_mm = 0.7\nmost_drop_mm = 0.6",
                            "must not be less than gauge_setting_mm", "loop.toml:3"},
                      Wrong{"[limits]\nsharp_radius_um = 50\ndull_radius_um = 40",
                            "must not be less than sharp_radius_um", "loop.toml:3"},
                      Wrong{"[limits]\ncolour = 1", "colour is not known here", "loop.toml:2"},
                      Wrong{"[limits.growing_setting]\nnew_mm = 0.9\nworn_mm = 0.6", "must not be less than new_mm",
                            "loop.toml:3"},
                      Wrong{"[limits]\ngauge_setting_mm = 0.6\n[limits.growing_setting]\nnew_mm = 0.6",
                            "exclude one another", "loop.toml:2"},
                      Wrong{"[parts]\nside_plate_mm = \"1,5\"", "point, not a comma", "loop.toml:2"},
                      Wrong{"[parts]\nside_plate_mm = \"1.5+-far\"", "not a number", "loop.toml:2"},
                      Wrong{"name = \"\xFF\xFE\"", "not readable as TOML", "loop.toml:1"}));

TEST(ChainSheetFile, MissingIsSaidSo) {
  const auto sheet = read_chain_sheet("/no/such/loop.toml");
  ASSERT_FALSE(sheet);
  EXPECT_EQ(sheet.error().fault, Fault::kFileMissing);
  EXPECT_THAT(sheet.error().where, EndsWith("loop.toml"));
}

TEST(ChainSheetFile, RefusesAFloodUnread) {
  EXPECT_EQ(sheet_of(std::string(2 << 20, '#')).error().fault, Fault::kBadOption);
  EXPECT_FALSE(sheet_of("a = " + std::string(5000, '[')));
}

}  // namespace
}  // namespace glintline
