#include "judge/number_cutters.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "judge/chain_builder.h"

namespace glintline {
namespace {

using testing::both_views;
using testing::built;
using ::testing::Contains;
using testing::cutter_facts;
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using testing::plan_of;
using testing::loop;
using testing::profile_of;
using testing::refused;

std::vector<int> numbers_in(const Numbering& numbering, std::size_t photo) {
  std::vector<int> numbers;
  for (const auto& n : numbering.numbers[photo]) numbers.push_back(n ? n->number : 0);
  return numbers;
}

Numbering numbered(const std::vector<Inspection>& photos, const ChainSheet& sheet = {},
                   std::vector<PhotoClaims> claims = {}, std::optional<int> start = {}) {
  claims.resize(photos.size());
  return number_cutters({photos, claims, sheet, start});
}

PhotoClaims named(int number, std::optional<ViewKind> view = {}) { return {{{number}, view, {}}, {}}; }

// 72 links of full sequence: 36 cutters, 18 of each hand; every third link: 24 (trade pages).
TEST(CutterSequence, CountsAndPlacesTheCuttersOfALoop) {
  EXPECT_EQ(expected_cutters(loop(72))->likely, 36);
  ChainSheet skip = loop(72);
  skip.sequence = Sequence::kFullSkip;
  EXPECT_EQ(expected_cutters(skip)->likely, 24);
  skip.sequence = Sequence::kSemiSkip;
  EXPECT_EQ(expected_cutters(skip)->likely, 28);
  EXPECT_FALSE(expected_cutters(skip)->exact);
  EXPECT_FALSE(expected_cutters({}));

  CutterSequence sequence{36, Hand::kLeft, {}, Counting::kBehind};
  int left = 0;
  for (int n = 1; n <= 36; ++n) left += sequence.hand_of(n) == Hand::kLeft;
  EXPECT_EQ(left, 18);
  EXPECT_EQ(sequence.place_of(15), "8th left-hander behind the mark");
  EXPECT_EQ(sequence.place_of(2), "1st right-hander behind the mark");
  EXPECT_EQ(sequence.moved(36, 1), 1);
  EXPECT_EQ(sequence.moved(1, -1), 36);
  // Two of a hand where a loop with an odd count was joined (trade page).
  CutterSequence joined{35, Hand::kLeft, 20, Counting::kAhead};
  EXPECT_EQ(joined.hand_of(20), joined.hand_of(21));
  EXPECT_NE(joined.hand_of(21), joined.hand_of(22));
  EXPECT_EQ(joined.place_of(3), "2nd left-hander ahead of the mark");
  EXPECT_EQ(ordinal(11) + ordinal(12) + ordinal(13) + ordinal(21) + ordinal(103), "11th12th13th21st103rd");
}

TEST(NumberCutters, NumbersANeighbourFromTheTaggedOneInTheDirectionOfCounting) {
  const std::vector<Inspection> photos{profile_of("a.jpg", {cutter_facts(5), cutter_facts(4)})};
  ChainSheet sheet = loop(72);
  EXPECT_THAT(numbers_in(numbered(photos, sheet), 0), ElementsAre(5, 4));
  sheet.counting = Counting::kAhead;
  EXPECT_THAT(numbers_in(numbered(photos, sheet), 0), ElementsAre(5, 6));
}

TEST(NumberCutters, LearnsTheDirectionFromTwoTagsInOnePicture) {
  std::vector<Inspection> photos{profile_of("a.jpg", {cutter_facts(5), cutter_facts(6)}),
                                 profile_of("b.jpg", {cutter_facts(9), cutter_facts(10)})};
  photos[0].cutters[1].measured.number = 6;
  const Numbering numbering = numbered(photos, loop(72));
  EXPECT_EQ(numbering.sequence.counting, Counting::kAhead);
  EXPECT_THAT(numbers_in(numbering, 1), ElementsAre(9, 10));
}

TEST(NumberCutters, LearnsTheDirectionFromWhichCuttersThenShowBothViews) {
  std::vector<Inspection> photos;
  for (const int first : {1, 3, 5}) photos.push_back(profile_of("p", {cutter_facts(first), cutter_facts(first + 1)}));
  for (int p = 0; p < 3; ++p) photos[static_cast<std::size_t>(p)].photo_sha256 += std::to_string(p);
  for (int n = 1; n <= 6; ++n) photos.push_back(plan_of(std::string("plan") + std::to_string(n), cutter_facts(n)));
  const Numbering numbering = numbered(photos, loop(72));
  EXPECT_EQ(numbering.sequence.counting, Counting::kAhead);
  EXPECT_THAT(numbers_in(numbering, 2), ElementsAre(5, 6));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("running direction")));
}

TEST(NumberCutters, LeavesOutAShapeThatStandsWhereNoCutterCan) {
  std::vector<Inspection> photos{profile_of("a.jpg", {cutter_facts(5), cutter_facts(4)})};
  photos[0].cutters[1].measured.corner_px.x() -= 20 / 0.02;  // 17 mm off instead of 37
  const Numbering numbering = numbered(photos, loop(72));
  EXPECT_THAT(numbers_in(numbering, 0), ElementsAre(5, 0));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("no cutter can be")));
}

TEST(NumberCutters, BelievesTheTagAndShowsTheContradiction) {
  const std::vector<Inspection> photos{plan_of("c07-plan.jpg", cutter_facts(9))};
  const Numbering numbering = numbered(photos, loop(72), {named(7)});
  EXPECT_THAT(numbers_in(numbering, 0), ElementsAre(9));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("its tag says cutter 9, its file name says 7")));
}

TEST(NumberCutters, TakesFileNamesAndThenTheList) {
  const std::vector<Inspection> photos{plan_of("c07.jpg", cutter_facts(7), false),
                                       plan_of("IMG_1.jpg", cutter_facts(8), false)};
  std::vector<PhotoClaims> claims{named(7), {}};
  claims[1].by_list = PhotoClaim{{8}, {}, {}};
  const Numbering numbering = numbered(photos, loop(72), claims);
  EXPECT_EQ(numbering.numbers[0][0]->by, NumberedBy::kFileName);
  EXPECT_EQ(numbering.numbers[1][0]->by, NumberedBy::kList);
  EXPECT_THAT(numbers_in(numbering, 1), ElementsAre(8));
}

TEST(NumberCutters, DoesNotBelieveSwappedNames) {
  const std::vector<Inspection> photos{plan_of("c07.jpg", cutter_facts(8), false),
                                       plan_of("c08.jpg", cutter_facts(7), false),
                                       plan_of("c09.jpg", cutter_facts(9), false)};
  const Numbering numbering = numbered(photos, loop(72), {named(7), named(8), named(9)});
  EXPECT_THAT(numbers_in(numbering, 0), ElementsAre(0));
  EXPECT_THAT(numbers_in(numbering, 1), ElementsAre(0));
  EXPECT_THAT(numbers_in(numbering, 2), ElementsAre(9));
  EXPECT_THAT(numbering.notes, Contains("c07.jpg and c08.jpg look swapped: rename them if they are"));
  EXPECT_EQ(numbering.retakes.size(), 2U);
}

TEST(NumberCutters, CountsADoubledFileOnce) {
  std::vector<Inspection> photos{plan_of("c07.jpg", cutter_facts(7)), plan_of("c07-copy.jpg", cutter_facts(7))};
  photos[1].photo_sha256 = photos[0].photo_sha256;
  const Numbering numbering = numbered(photos, loop(72));
  EXPECT_THAT(numbers_in(numbering, 1), ElementsAre(0));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("the same file")));
}

TEST(NumberCutters, CountsOnFromOneTagThroughASpoiledPhotograph) {
  std::vector<Inspection> photos;
  for (int n = 1; n <= 6; ++n) {
    photos.push_back(n == 4 ? refused("4", "out of focus") : plan_of(std::to_string(n), cutter_facts(n), n == 2));
  }
  const Numbering numbering = numbered(photos, loop(72));
  for (const int n : {1, 2, 3, 5, 6})
    EXPECT_THAT(numbers_in(numbering, static_cast<std::size_t>(n - 1)), ElementsAre(n));
  EXPECT_EQ(numbering.numbers[4][0]->by, NumberedBy::kOrder);
  ASSERT_EQ(numbering.retakes.size(), 1U);
  EXPECT_EQ(numbering.retakes[0].number, 4);
  EXPECT_EQ(numbering.retakes[0].why, "out of focus");
}

TEST(NumberCutters, StopsCountingWhereAHandShowsThatOneIsMissing) {
  std::vector<Inspection> photos;
  for (const int n : {1, 2, 3, 5, 6}) photos.push_back(plan_of(std::to_string(n), cutter_facts(n), n == 1));
  const Numbering numbering = numbered(photos, loop(72));
  EXPECT_THAT(numbers_in(numbering, 2), ElementsAre(3));
  EXPECT_THAT(numbers_in(numbering, 3), ElementsAre(0));
  EXPECT_THAT(numbers_in(numbering, 4), ElementsAre(0));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("missing or doubled")));
}

TEST(NumberCutters, GivesNoNumbersBetweenTwoTagsThatTheGapDoesNotFill) {
  std::vector<Inspection> photos;
  for (const int n : {1, 2, 2, 3, 4}) {
    photos.push_back(plan_of(std::string("p") + std::to_string(photos.size()), cutter_facts(n), n == 1 || n == 4));
  }
  const Numbering numbering = numbered(photos, loop(72));
  for (const std::size_t p : {1U, 2U, 3U}) EXPECT_THAT(numbers_in(numbering, p), ElementsAre(0));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("3 cutters where 2 should be")));
}

TEST(NumberCutters, CountsFromTheMarkWhereNothingTellsAndSaysSo) {
  std::vector<Inspection> photos;
  for (int n = 1; n <= 3; ++n) photos.push_back(plan_of(std::to_string(n), cutter_facts(n), false));
  EXPECT_THAT(numbers_in(numbered(photos), 2), ElementsAre(3));
  EXPECT_THAT(numbered(photos).notes, Contains(HasSubstr("nothing tells the numbers")));
  EXPECT_THAT(numbers_in(numbered(photos, {}, {}, 11), 2), ElementsAre(13));
}

TEST(NumberCutters, FindsTheJoinWithTwoOfAHandInARow) {
  std::vector<Inspection> photos;
  for (int n = 1; n <= 9; ++n) {
    auto facts = cutter_facts(n);
    if (n > 4) facts.hand = other_hand(facts.hand);
    photos.push_back(plan_of(std::to_string(n), facts));
  }
  const Numbering numbering = numbered(photos, loop(70));  // 35 cutters
  EXPECT_EQ(numbering.sequence.alike_after, 4);
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("cutters 4 and 5 are of the same hand")));
  // A single misread hand makes no join.
  photos[4] = plan_of("5", cutter_facts(5));
  std::vector<Inspection> one;
  for (int n = 1; n <= 9; ++n) {
    auto facts = cutter_facts(n);
    if (n == 5) facts.hand = other_hand(facts.hand);
    one.push_back(plan_of(std::to_string(n), facts));
  }
  EXPECT_FALSE(numbered(one, loop(70, {})).sequence.alike_after);
  EXPECT_THAT(numbered(one, loop(70, {})).notes, Contains(HasSubstr("a tag in the wrong place")));
}

TEST(NumberCutters, RefusesNumbersTheLoopDoesNotHave) {
  const Numbering numbering = numbered({plan_of("x", cutter_facts(41))}, loop(72));
  EXPECT_THAT(numbers_in(numbering, 0), ElementsAre(0));
  EXPECT_THAT(numbering.notes, Contains(HasSubstr("36 cutters")));
}

TEST(JoinViews, JoinsBothViewsOfACutter) {
  const auto chain = built(both_views({cutter_facts(1, 8.0), cutter_facts(2, 7.9)}), loop(72));
  ASSERT_EQ(chain.cutters.size(), 2U);
  const JoinedCutter& cutter = chain.cutters[1];
  EXPECT_EQ(cutter.place, "1st right-hander behind the mark");
  EXPECT_EQ(cutter.sightings.size(), 2U);
  EXPECT_THAT(cutter.missing_views, IsEmpty());
  EXPECT_NEAR(cutter.measured.length_mm->value, 7.9, 1e-9);
  EXPECT_NEAR(cutter.measured.length_mm->u(), 0.01 / std::sqrt(2), 1e-9);
  EXPECT_TRUE(cutter.measured.gauge_drop_mm);
  EXPECT_TRUE(cutter.measured.edge_radius_um);
  EXPECT_EQ(cutter.verdict.action, Action::kLeave);
}

TEST(JoinViews, NeverLeavesACutterOnOneViewAlone) {
  const auto only_profile = built({profile_of("a", {cutter_facts(1)})});
  EXPECT_EQ(only_profile.cutters[0].verdict.action, Action::kUndecided);
  EXPECT_THAT(only_profile.cutters[0].missing_views, ElementsAre(ViewKind::kPlan));
  const auto only_plan = built({plan_of("a", cutter_facts(1))});
  EXPECT_EQ(only_plan.cutters[0].verdict.action, Action::kUndecided);
  EXPECT_THAT(only_plan.cutters[0].verdict.why.front(), HasSubstr("gauge"));
  auto dull = cutter_facts(1);
  dull.radius_um = 80;
  EXPECT_EQ(built({plan_of("a", dull)}).cutters[0].verdict.action, Action::kFile);
}

TEST(JoinViews, ShowsAContradictionInsteadOfAveragingIt) {
  const auto chain =
      built({profile_of("c1-profile.jpg", {cutter_facts(1, 8.0)}), plan_of("c1-plan.jpg", cutter_facts(1, 7.4))});
  const JoinedCutter& cutter = chain.cutters[0];
  ASSERT_EQ(cutter.contradictions.size(), 1U);
  EXPECT_THAT(cutter.contradictions[0], HasSubstr("7.40 +- 0.02 mm in c1-plan.jpg, 8.00 +- 0.02 mm in c1-profile.jpg"));
  EXPECT_LE(std::abs(cutter.measured.length_mm->value - 8.0), kCoverage * cutter.measured.length_mm->u() + 1e-9);
  EXPECT_LE(std::abs(cutter.measured.length_mm->value - 7.4), kCoverage * cutter.measured.length_mm->u() + 1e-9);
  EXPECT_EQ(cutter.verdict.action, Action::kUndecided);
}

TEST(JoinViews, ReckonsWithAChipThatOnlyOnePhotographShows) {
  auto chipped = cutter_facts(1);
  chipped.chip_depths_mm = {0.3};
  auto photos = both_views({cutter_facts(1)});
  photos.push_back(plan_of("again.jpg", chipped));
  const auto chain = built(photos);
  EXPECT_EQ(chain.cutters[0].measured.chips.size(), 1U);
  EXPECT_THAT(chain.cutters[0].contradictions, Contains(HasSubstr("seen in again.jpg, not in another")));
  EXPECT_EQ(chain.cutters[0].verdict.action, Action::kFile);
}

}  // namespace
}  // namespace glintline
