#include "report/table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "report/sample_inspection.h"
#include "report/text_layout.h"

namespace glintline {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;
using namespace testing;  // NOLINT(google-build-using-namespace)

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::vector<Inspection> all() { return {profile_inspection(), refused_inspection(), plan_inspection()}; }

/// The line of a cutter's row: number first.
std::string row_of(const std::string& table, const std::string& number) {
  for (const std::string& line : lines_of(table)) {
    if (line.rfind(number + " ", 0) == 0) return line;
  }
  return "";
}

TEST(Table, HasARowACutterAndALineARefusedPhotograph) {
  const std::string table = table_text(all(), {80, true, false});
  EXPECT_THAT(row_of(table, "7"), HasSubstr("lower gauge"));
  EXPECT_THAT(row_of(table, "7"), HasSubstr("0.50\xC2\xB1"
                                            "0.03"));
  EXPECT_THAT(row_of(table, "12"), HasSubstr("2: 0.31"));
  EXPECT_THAT(row_of(table, "A"), HasSubstr("not measured"));
  EXPECT_THAT(table, HasSubstr("\nnot measured: bench/dark.jpg: 3 squares of the card seen, 12 needed"));
  EXPECT_THAT(table, HasSubstr("3 cutters in 3 photographs: 1 undecided, 1 lower gauge, 1 not measured; 1"));
  EXPECT_THAT(table, HasSubstr("Advice only"));
}

TEST(Table, ValuesStandUnderTheirHeads) {
  const std::string table = table_text(all(), {80, true, false});
  const std::vector<std::string> lines = lines_of(table);
  const std::size_t drop = lines[0].find("drop");
  const std::size_t chips = lines[0].find("chips");
  ASSERT_NE(drop, std::string::npos);
  EXPECT_EQ(lines[1].substr(drop, 2), "mm");
  EXPECT_EQ(row_of(table, "7").substr(drop, 4), "0.50");
  // Two-byte signs stand before this column: bytes and columns differ.
  const std::string row = row_of(table, "12");
  EXPECT_EQ(display_width(row.substr(0, row.find("2: 0.31"))), static_cast<int>(chips));
}

TEST(Table, FitsTheTerminal) {
  for (const int width : {50, 80, 100, 140}) {
    for (const std::string& line :
         lines_of(table_text({profile_inspection(), plan_inspection()}, {width, true, false}))) {
      // The line that names a photograph is one line, however long.
      if (line.rfind("bench/", 0) == 0) continue;
      EXPECT_LE(display_width(line), width) << line;
    }
  }
}

TEST(Table, WideTerminalsShowTheReasonsBesideTheRow) {
  const std::string wide = row_of(table_text({profile_inspection()}, {140, true, false}), "7");
  EXPECT_THAT(wide, HasSubstr("gauge drop"));
  EXPECT_THAT(row_of(table_text({profile_inspection()}, {80, true, false}), "7"), Not(HasSubstr("gauge drop")));
}

TEST(Table, TheMainReasonsStandUnlessAllAreAskedFor) {
  Inspection inspection = profile_inspection();
  inspection.cutters[0].verdict.why = {"first", "second", "third"};
  TableStyle style{80, true, false};
  const std::string brief = table_text({inspection}, style);
  EXPECT_THAT(brief, HasSubstr("- first"));
  EXPECT_THAT(brief, HasSubstr("- second"));
  EXPECT_THAT(brief, Not(HasSubstr("- third")));
  EXPECT_THAT(brief, HasSubstr("Every reason: glintline -v"));
  EXPECT_THAT(brief, HasSubstr("shift the chain")) << "what is not measured always says why";
  style.all_reasons = true;
  EXPECT_THAT(table_text({inspection}, style), HasSubstr("- third"));
  EXPECT_THAT(table_text({inspection}, style), Not(HasSubstr("Every reason")));
}

TEST(Table, WhatManyPhotographsShareIsToldOnce) {
  Inspection own = plan_inspection();
  own.notes = {"only here"};
  const std::string table = table_text({profile_inspection(), profile_inspection(), own}, {100, true, false});
  EXPECT_THAT(table, HasSubstr("Note on 2 photographs: the print was not measured: 1 % of scale is open."));
  EXPECT_THAT(table, Not(HasSubstr("note: the print")));
  EXPECT_THAT(table, HasSubstr("note: only here"));
}

TEST(Table, ColumnsNobodyFillsAreLeftOut) {
  const std::string table = table_text({profile_inspection()}, {80, true, false});
  EXPECT_THAT(lines_of(table)[0], Not(HasSubstr("chips")));
  EXPECT_THAT(lines_of(table)[0], HasSubstr("drop"));
}

TEST(Table, PlainTerminalsGetPlainText) {
  Inspection odd = profile_inspection();
  odd.photo_path = "K\xC3\xB6rper\x1b[2J.jpg";
  for (const char c : table_text({odd, plan_inspection()}, {80, false, false})) {
    EXPECT_TRUE(c == '\n' || (c >= 0x20 && c < 0x7F)) << static_cast<int>(c);
  }
}

TEST(Table, ColourOnlyWhereAskedForAndBesideTheWord) {
  EXPECT_THAT(table_text(all(), {80, true, false}), Not(HasSubstr("\x1b")));
  const std::string coloured = table_text(all(), {80, true, true});
  EXPECT_THAT(coloured, HasSubstr("\x1b[1;33mlower gauge"));
}

TEST(Table, NothingMeasuredIsSaidWithoutAnEmptyHead) {
  const std::string table = table_text({refused_inspection()}, {80, true, false});
  EXPECT_THAT(table, StartsWith("not measured: "));
  EXPECT_THAT(table, HasSubstr("0 cutters in 1 photograph; 1 photograph not measured."));
}

}  // namespace
}  // namespace glintline
