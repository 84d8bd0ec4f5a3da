#include "trace/face_decision.h"

#include <gtest/gtest.h>

namespace glintline {
namespace {

// Signs that are clear by themselves, and some that say nothing either way.
constexpr FaceSigns kInner{.bevel = true, .strap = 0.7, .underside = 0.6, .shoulder_mm = 0};
constexpr FaceSigns kOuter{.bevel = false, .strap = 0.25, .underside = 0, .shoulder_mm = 0};
/// A strap's outline that is as likely an accident.
constexpr double kEvenStrap = 0.46;

std::vector<CutterOutline> cutters_with(const std::vector<FaceSigns>& signs) {
  std::vector<CutterOutline> cutters(signs.size());
  for (std::size_t i = 0; i < signs.size(); ++i) cutters[i].face = signs[i];
  return cutters;
}

/// A sign as weak as can be: the underside's strength at which a lone cutter's decision turns, found by halving.
FaceSigns undecided() {
  double low = 0;
  double high = 1;
  for (int i = 0; i < 40; ++i) {
    FaceSigns signs{.strap = kEvenStrap, .underside = 0.5 * (low + high)};
    auto alone = cutters_with({signs});
    decide_faces(alone, {0});
    (alone[0].outer_face_up ? low : high) = signs.underside;
  }
  return {.strap = kEvenStrap, .underside = 0.5 * (low + high)};
}

TEST(FaceDecision, GoesByACuttersOwnSignsWhenItIsAlone) {
  auto cutters = cutters_with({kInner});
  decide_faces(cutters, {3});
  EXPECT_FALSE(cutters[0].outer_face_up);
  EXPECT_LT(cutters[0].chance_of_other_face, 0.02);
  cutters = cutters_with({kOuter});
  decide_faces(cutters, {3});
  EXPECT_TRUE(cutters[0].outer_face_up);
  EXPECT_LT(cutters[0].chance_of_other_face, 0.02);
}

// Mirror-bright steel shows lines that an underside could be, and a rounded shoulder a bevel; neither outweighs that no
// strap is seen, nor does dull steel without either the strap that is.
TEST(FaceDecision, GoesByTheStrapWhereNothingElseIsClear) {
  auto cutters = cutters_with({{.bevel = true, .strap = 0.3, .underside = 0.3, .shoulder_mm = 1.5}});
  decide_faces(cutters, {3});
  EXPECT_TRUE(cutters[0].outer_face_up);
  EXPECT_GT(cutters[0].chance_of_other_face, 0.05) << "and say that it is less sure";
  cutters = cutters_with({{.bevel = false, .strap = 0.64, .underside = 0.1, .shoulder_mm = 0}});
  decide_faces(cutters, {3});
  EXPECT_FALSE(cutters[0].outer_face_up);
}

// From the inner side the strap's edge parts a gauge from the rivet head, unless the strap rises and hides the gauge.
TEST(FaceDecision, TakesASteepGaugeThatNothingPartsFromTheHeadForABareOne) {
  FaceSigns signs{.strap = kEvenStrap, .under_gauge = 0.05, .gauge_flank = 2, .underside = 0.25};
  for (const bool steep : {true, false}) {
    signs.gauge_flank = steep ? 2 : 0.8;
    auto cutters = cutters_with({signs});
    decide_faces(cutters, {3});
    EXPECT_EQ(cutters[0].outer_face_up, steep);
  }
}

// A line across the body and one under the top, as mirror-bright steel shows them: what is darker tells which they are.
TEST(FaceDecision, AsksWhetherTheMiddleIsInTheShade) {
  for (const double recess : {-0.9, 0.9}) {
    auto cutters = cutters_with({{.strap = 0.46, .underside = 0.6, .recess = recess, .shoulder_mm = 2.4}});
    decide_faces(cutters, {0});
    EXPECT_EQ(cutters[0].outer_face_up, recess < 0);
  }
  // Against signs that are clear by themselves it says nothing.
  FaceSigns clear = kInner;
  clear.recess = -1.5;
  auto cutters = cutters_with({clear});
  decide_faces(cutters, {0});
  EXPECT_FALSE(cutters[0].outer_face_up);
}

TEST(FaceDecision, SaysThatAnUndecidedCutterIsAGuess) {
  auto cutters = cutters_with({undecided()});
  decide_faces(cutters, {0});
  EXPECT_NEAR(cutters[0].chance_of_other_face, 0.5, 1e-6);
}

// Hands alternate along a full-complement chain, a cutter every four pitches (common practice, no source).
TEST(FaceDecision, LetsClearNeighboursDecideForAnUnclearOne) {
  for (const bool inner : {true, false}) {
    const FaceSigns clear = inner ? kInner : kOuter;
    auto cutters = cutters_with({clear, undecided(), clear});
    decide_faces(cutters, {0, 4, 8});
    EXPECT_EQ(cutters[0].outer_face_up, !inner);
    EXPECT_EQ(cutters[1].outer_face_up, inner);
    EXPECT_EQ(cutters[2].outer_face_up, !inner);
    EXPECT_LT(cutters[1].chance_of_other_face, 0.05);
  }
}

TEST(FaceDecision, TakesCuttersEightPitchesApartForTheSameHand) {
  auto cutters = cutters_with({kInner, undecided()});
  decide_faces(cutters, {0, 8});
  EXPECT_FALSE(cutters[1].outer_face_up);
}

TEST(FaceDecision, DoesNotDependOnTheDirectionOfCounting) {
  auto cutters = cutters_with({undecided(), kOuter});
  decide_faces(cutters, {9, 5});
  EXPECT_FALSE(cutters[0].outer_face_up);
}

// Where a loop of odd count was joined two cutters of one hand follow each other; clear signs must stand.
TEST(FaceDecision, KeepsTwoClearCuttersOfOneHandInARow) {
  for (const FaceSigns& clear : {kInner, kOuter}) {
    auto cutters = cutters_with({clear, clear});
    decide_faces(cutters, {0, 4});
    EXPECT_EQ(cutters[0].outer_face_up, !clear.bevel);
    EXPECT_EQ(cutters[1].outer_face_up, !clear.bevel);
    EXPECT_GT(cutters[0].chance_of_other_face, 0.2) << "and say that it is less sure";
  }
}

TEST(FaceDecision, LearnsNothingFromOddDistances) {
  for (const int apart : {3, 5, 6, 12}) {
    auto alone = cutters_with({undecided()});
    decide_faces(alone, {0});
    auto cutters = cutters_with({undecided(), kInner});
    decide_faces(cutters, {0, apart});
    EXPECT_EQ(cutters[0].outer_face_up, alone[0].outer_face_up) << apart;
    EXPECT_NEAR(cutters[0].chance_of_other_face, 0.5, 1e-6) << apart;
  }
}

}  // namespace
}  // namespace glintline
