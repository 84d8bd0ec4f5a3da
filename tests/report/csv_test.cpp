#include "report/csv.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <utility>

#include "report/sample_inspection.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)

using Rows = std::vector<std::vector<std::string>>;

/// A reader after RFC 4180, 2: quoted cells may hold commas, line ends and doubled quotes.
Rows read_csv(const std::string& text) {
  Rows rows;
  std::vector<std::string> row;
  std::string cell;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted && c == '"' && i + 1 < text.size() && text[i + 1] == '"') {
      cell += c;
      ++i;
    } else if (c == '"') {
      quoted = !quoted;
    } else if (!quoted && (c == ',' || c == '\n')) {
      row.push_back(cell);
      cell.clear();
      if (c == '\n') rows.push_back(std::exchange(row, {}));
    } else {
      cell += c;
    }
  }
  return rows;
}

std::map<std::string, std::string> named(const Rows& rows, std::size_t row) {
  std::map<std::string, std::string> cells;
  for (std::size_t i = 0; i < rows[0].size(); ++i) cells[rows[0][i]] = rows[row][i];
  return cells;
}

TEST(Csv, HasOneRowACutterAndOneForAPhotographWithoutAny) {
  const Rows rows = read_csv(csv_text({profile_inspection(), refused_inspection(), plan_inspection()}));
  ASSERT_EQ(rows.size(), 5U);
  for (const auto& row : rows) EXPECT_EQ(row.size(), rows[0].size());
  EXPECT_EQ(named(rows, 1)["number"], "7");
  EXPECT_EQ(named(rows, 2)["verdict"], "not measured");
  EXPECT_EQ(named(rows, 3)["status"], "refused");
  EXPECT_EQ(named(rows, 3)["why"], refused_inspection().refusal->what);
  EXPECT_EQ(named(rows, 4)["number"], "12");
}

TEST(Csv, CellsHoldValuesAndTheirU95) {
  const Rows rows = read_csv(csv_text({profile_inspection(), plan_inspection()}));
  EXPECT_EQ(named(rows, 1)["gauge_drop_mm"], "0.5012");
  EXPECT_EQ(named(rows, 1)["gauge_drop_u95"], "0.0300");
  EXPECT_EQ(named(rows, 1)["edge_radius_um"], "");
  EXPECT_EQ(named(rows, 1)["chips"], "") << "not searched is not none";
  EXPECT_EQ(named(rows, 3)["edge_angle_deg"], "29.700");
  EXPECT_EQ(named(rows, 3)["chips"], "2");
  EXPECT_EQ(named(rows, 3)["deepest_chip_mm"], "0.3100");
}

TEST(Csv, TextWithCommasAndQuotesComesBackWhole) {
  Inspection odd = refused_inspection();
  odd.photo_path = "a \"b\", c.jpg";
  EXPECT_EQ(named(read_csv(csv_text({odd})), 1)["photo"], odd.photo_path);
}

}  // namespace
}  // namespace glintline
