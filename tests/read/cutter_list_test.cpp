#include "read/cutter_list.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "read/written_file.h"

namespace glintline {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using testing::WrittenFile;

TEST(CutterList, ReadsColumnsInAnyOrderAndPassesOverOthers) {
  const WrittenFile file(
      "list.csv",
      "\xEF\xBB\xBFnumber,photo,remark,view\r\n7,pictures/a.jpg,\"good, sharp\",Plan\r\n8,b.jpg,,\r\n"
      "9,b.jpg,,\r\n");
  const auto list = read_cutter_list(file.path());
  ASSERT_TRUE(list.ok()) << list.error().what;
  ASSERT_EQ(list->size(), 2U);
  EXPECT_EQ((*list)[0].photo, "a.jpg");
  EXPECT_THAT((*list)[0].claim.numbers, ElementsAre(7));
  EXPECT_EQ((*list)[0].claim.view, ViewKind::kPlan);
  EXPECT_THAT((*list)[1].claim.numbers, ElementsAre(8, 9));
}

TEST(CutterList, SaysWhatIsWrongAndInWhichLine) {
  struct Case {
    const char* text;
    const char* line;
    const char* what;
  };
  for (const Case& c : {Case{"photo;number\na;1\n", ":1", "lacks the column"},
                        {"", ":1", "head row"},
                        {"photo,number\na.jpg,1\nb.jpg,two\n", ":3", "number 'two'"},
                        {"photo,number\na.jpg,1.5\n", ":2", "number '1.5'"},
                        {"photo,number\na.jpg,0\n", ":2", "number '0'"},
                        {"photo,number,view\na.jpg,1,front\n", ":2", "view 'front'"},
                        {"photo,number,hand\na.jpg,1,both\n", ":2", "hand 'both'"},
                        {"photo,number\n,1\n", ":2", "names no photograph"},
                        {"photo,number\na.jpg,1,2\n", ":2", "too few or too many"},
                        {"photo,number\na.jpg\n", ":2", "too few or too many"}}) {
    const WrittenFile file("list.csv", c.text);
    const auto list = read_cutter_list(file.path());
    ASSERT_FALSE(list.ok()) << c.text;
    EXPECT_THAT(list.error().where, HasSubstr(std::string("list.csv") + c.line)) << c.text;
    EXPECT_THAT(list.error().what, HasSubstr(c.what)) << c.text;
  }
  EXPECT_EQ(read_cutter_list("/nowhere/list.csv").error().fault, Fault::kFileMissing);
}

TEST(StrokeCounts, ComeBackAsTheyWereWritten) {
  const std::vector<StrokeCount> counts{{"ridge, old", 3, 10, 0.6123, 0.04}, {"ridge", 4, 9.5, 0.5, 0.05}};
  const WrittenFile file("strokes.csv", stroke_rows({counts[0]}, {counts[1]}));
  const auto read = read_stroke_counts(file.path());
  ASSERT_TRUE(read.ok()) << read.error().what;
  ASSERT_EQ(read->size(), 2U);
  EXPECT_EQ((*read)[0].cutter, 3);
  EXPECT_EQ((*read)[0].bevel_mm, 0.6123);
  EXPECT_EQ((*read)[1].strokes, 9.5);
  EXPECT_EQ((*read)[1].u_mm, 0.05);
  EXPECT_THAT(*read_stroke_counts("/nowhere/strokes.csv"), IsEmpty());
  const WrittenFile broken("strokes.csv", "chain,cutter,strokes,bevel_mm,u_mm\nridge,1,0,0.5,0.1\n");
  EXPECT_THAT(read_stroke_counts(broken.path()).error().where, HasSubstr("strokes.csv:2"));
}

}  // namespace
}  // namespace glintline
