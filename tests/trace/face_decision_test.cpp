#include "trace/face_decision.h"

#include <gtest/gtest.h>

namespace glintline {
namespace {

// Signs that are clear by themselves, and some that say nothing either way.
constexpr FaceSigns kInner{.bevel = true, .strap = 0.6, .underside = 0.6, .shoulder_mm = 0};
constexpr FaceSigns kOuter{.bevel = false, .strap = 0, .underside = 0, .shoulder_mm = 0};

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
    FaceSigns signs;
    signs.underside = 0.5 * (low + high);
    auto alone = cutters_with({signs});
    decide_faces(alone, {0});
    (alone[0].outer_face_up ? low : high) = signs.underside;
  }
  FaceSigns signs;
  signs.underside = 0.5 * (low + high);
  return signs;
}

TEST(FaceDecision, GoesByACuttersOwnSignsWhenItIsAlone) {
  auto cutters = cutters_with({kInner});
  decide_faces(cutters, {3});
  EXPECT_FALSE(cutters[0].outer_face_up);
  EXPECT_GT(cutters[0].face_margin, 0.9);
  cutters = cutters_with({kOuter});
  decide_faces(cutters, {3});
  EXPECT_TRUE(cutters[0].outer_face_up);
  EXPECT_GT(cutters[0].face_margin, 0.9);
}

// Mirror-bright steel shows the bench's rim as a line across the body.
TEST(FaceDecision, AsksForTheUndersideBesideAStrap) {
  auto cutters = cutters_with({{.bevel = false, .strap = 1, .underside = 0.1, .shoulder_mm = 0}});
  decide_faces(cutters, {3});
  EXPECT_TRUE(cutters[0].outer_face_up);
  EXPECT_LT(cutters[0].face_margin, 0.25) << "and say that it is a guess";
}

// A bevel seen behind the outer cutter's top, a weak underside: by themselves the signs call the wrong one inner. What
// the bench is mirrored as would lie across both bodies.
TEST(FaceDecision, BelievesAStrapBesideACutterWithoutOne) {
  auto cutters = cutters_with({{.bevel = false, .strap = 0.92, .underside = 0.2, .shoulder_mm = 1},
                               {.bevel = true, .strap = 0.1, .underside = 0.35, .shoulder_mm = 1}});
  decide_faces(cutters, {0, 4});
  EXPECT_FALSE(cutters[0].outer_face_up);
  EXPECT_TRUE(cutters[1].outer_face_up);
}

// A line across the body and one under the top, as mirror-bright steel shows them: what is darker tells which they are.
TEST(FaceDecision, AsksWhetherTheMiddleIsInTheShade) {
  for (const double recess : {-0.9, 0.9}) {
    auto cutters = cutters_with({{.strap = 0.44, .underside = 0.67, .recess = recess, .shoulder_mm = 2.4}});
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

// Under a rounded shoulder an underside counts for less; a strap's edge that is clearer than any accident makes up for it.
TEST(FaceDecision, BelievesAVeryClearStrapUnderARoundedShoulder) {
  for (const double strap : {0.3, 0.65}) {
    auto cutters = cutters_with({{.bevel = false, .strap = strap, .underside = 0.4, .shoulder_mm = 1.5}});
    decide_faces(cutters, {0});
    EXPECT_EQ(cutters[0].outer_face_up, strap < 0.5);
    EXPECT_LT(cutters[0].face_margin, 0.4);
  }
}

// A rounded shoulder in the shade looks like a bevel that mirrors the field; the straps decide between neighbours.
TEST(FaceDecision, TakesABevelWithoutAStrapForNoProof) {
  auto cutters = cutters_with({{.bevel = true, .strap = 0.02, .underside = 0.1, .shoulder_mm = 0.9}});
  decide_faces(cutters, {0});
  EXPECT_TRUE(cutters[0].outer_face_up);
  EXPECT_LT(cutters[0].face_margin, 0.9);
  cutters = cutters_with({{.bevel = true, .strap = 0.6, .underside = 0, .shoulder_mm = 0}});
  decide_faces(cutters, {0});
  EXPECT_FALSE(cutters[0].outer_face_up);
}

TEST(FaceDecision, SaysThatAnUndecidedCutterIsAGuess) {
  auto cutters = cutters_with({undecided()});
  decide_faces(cutters, {0});
  EXPECT_LT(cutters[0].face_margin, 0.05);
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
    EXPECT_GT(cutters[1].face_margin, 0.5);
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
    EXPECT_LT(cutters[0].face_margin, 0.5) << "and say that it is less sure";
  }
}

TEST(FaceDecision, LearnsNothingFromOddDistances) {
  for (const int apart : {3, 5, 6, 12}) {
    auto alone = cutters_with({undecided()});
    decide_faces(alone, {0});
    auto cutters = cutters_with({undecided(), kInner});
    decide_faces(cutters, {0, apart});
    EXPECT_EQ(cutters[0].outer_face_up, alone[0].outer_face_up) << apart;
    EXPECT_LT(cutters[0].face_margin, 0.05) << apart;
  }
}

}  // namespace
}  // namespace glintline
