#include "measure/plan_chips.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.0125;
constexpr double kEdgeMm = 6;
/// The neighbours' level is a median of samples and the bottom one sample: exact to the shape's own curvature.
constexpr double kDepthMm = 0.005;

std::vector<Recession> outline(const std::function<double(double)>& behind) {
  std::vector<Recession> out;
  for (double s = 0; s < kEdgeMm; s += kMmPerPx) out.push_back({s, s, behind(s), true, behind(s)});
  return out;
}

double gap(double s, double at, double depth, double width) {
  const double t = 2 * (s - at) / width;
  return std::abs(t) < 1 ? depth * std::sqrt(1 - t * t) : 0;
}

std::vector<FoundChip> chips(const std::function<double(double)>& behind) {
  return find_chips(outline(behind), {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
}

TEST(PlanChips, MeasuresPlaceDepthAndWidthBehindTheNeighbours) {
  // The neighbours themselves stand back by 0.03 mm: that is rounding and no part of the chip.
  const auto found = chips([](double s) { return 0.03 + gap(s, 2.5, 0.2, 0.6); });
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.at_mm, 2.5, 0.03);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.2, kDepthMm);
  EXPECT_NEAR(found[0].chip.width_mm.value, 0.6, 0.05);
  EXPECT_NEAR(found[0].chip.area_mm2.value, M_PI / 4 * 0.2 * 0.6, 0.01);
}

TEST(PlanChips, FindsATenthOfAMillimetreAndTwoNeighbours) {
  EXPECT_EQ(chips([](double s) { return gap(s, 2, 0.1, 0.25); }).size(), 1U);
  EXPECT_EQ(chips([](double s) { return gap(s, 2, 0.15, 0.3) + gap(s, 3.5, 0.3, 0.8); }).size(), 2U);
}

// Uneven wear leaves a shallow dent, and the outline's own wandering makes it look a little steep here and there; chips
// beside each other are as shallow, but their walls are steep.
TEST(PlanChips, TellsADullSpotFromChipsBesideEachOther) {
  const auto dent = [](double s) { return 0.1 * std::exp(-0.5 * std::pow((s - 3) / 0.45, 2)); };
  const auto wandering = [&](double s) { return dent(s) + 0.014 * std::sin(2 * M_PI * s / 0.2); };
  EXPECT_TRUE(chips(wandering).empty());
  const auto beside = [](double s) { return s > 2.4 && s < 3.6 && std::fmod(s, 0.3) > 0.02 ? 0.11 : 0; };
  EXPECT_FALSE(chips(beside).empty());
}

// Deeper than wide, it is a scratch, unless what lies below the edge shows in it.
TEST(PlanChips, TellsANarrowGapByWhatShowsInIt) {
  auto narrow = outline([](double s) { return gap(s, 2.5, 0.4, 0.26); });
  EXPECT_TRUE(find_chips(narrow, {kMmPerPx}, 0.4, 0.98 * kEdgeMm).empty());
  for (Recession& r : narrow) r.open = r.behind_mm > 0.05;
  const auto found = find_chips(narrow, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.4, 0.03);
}

/// A semi-chisel's outline bends away from the line over its last 1.6 mm.
double bend(double s) {
  constexpr double kRadiusMm = 1.6;
  const double u = std::max(0.0, kRadiusMm - s);
  return 0.7 * (kRadiusMm - std::sqrt(kRadiusMm * kRadiusMm - u * u));
}

// Chips in a bend and across its end stand back from the bend, not from the line; a bend alone is no chip. The chord
// across a chip lies width²/8R behind the bend that was there.
TEST(PlanChips, FindsChipsInARoundedCornersBend) {
  const auto found = [](const std::function<double(double)>& behind) {
    return find_chips(behind_bend(outline(behind), 1.6), {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  };
  EXPECT_TRUE(found(bend).empty());
  for (const double at : {0.9, 1.3, 1.6}) {
    const auto chips = found([&](double s) { return bend(s) + gap(s, at, 0.3, 0.6); });
    ASSERT_EQ(chips.size(), 1U) << at;
    EXPECT_NEAR(chips[0].chip.at_mm, at, 0.1);
    EXPECT_NEAR(chips[0].chip.depth_mm.value, 0.3, 0.04) << at;
    EXPECT_NEAR(chips[0].chip.width_mm.value, 0.6, 0.1) << at;
  }
}

/// Half-way contour of a shape under a Gaussian blur of `sigma`: the place where the blurred metal is half bright.
std::vector<Recession> blurred(const std::function<double(double)>& behind, double sigma) {
  const auto metal = [&](double s, double n) {
    double sum = 0;
    double weight = 0;
    for (double t = -4 * sigma; t <= 4 * sigma; t += sigma / 10) {
      const double w = std::exp(-t * t / (2 * sigma * sigma));
      sum += w * 0.5 * std::erfc((behind(s + t) - n) / (sigma * std::sqrt(2.0)));
      weight += w;
    }
    return sum / weight;
  };
  return outline([&](double s) {
    double low = -1;
    double high = 1;
    while (high - low > 1e-4) (metal(s, (low + high) / 2) < 0.5 ? low : high) = (low + high) / 2;
    return low;
  });
}

// The depth of tips that the blur rounds lies within its uncertainty, and on average where it is.
TEST(PlanChips, ReachesIntoTheTipThatTheBlurRounds) {
  constexpr double kBlurPx = 1.3;
  double off = 0;
  for (const double tip_deg : {60.0, 75.0, 90.0, 120.0, 180.0}) {
    const double steep = 1 / std::tan(tip_deg / 2 * M_PI / 180);
    const auto notch = [&](double s) {
      const double way = std::abs(s - 2.5);
      return tip_deg == 180 ? gap(s, 2.5, 0.2, 0.8) : std::max(0.0, 0.2 - steep * way);
    };
    const auto found = find_chips(blurred(notch, kBlurPx * kMmPerPx), {kMmPerPx, kBlurPx}, 0.4, 0.98 * kEdgeMm);
    ASSERT_EQ(found.size(), 1U) << tip_deg;
    const Quantity& depth = found[0].chip.depth_mm;
    EXPECT_NEAR(depth.value, 0.2, kCoverage * depth.u()) << tip_deg;
    off += (depth.value - 0.2) / 5;
  }
  EXPECT_NEAR(off, 0, 0.004);
}

// A ragged gap whose teeth double back, so that rows are not seen, is one gap; its own rest is no neighbour.
TEST(PlanChips, KeepsARaggedGapTogether) {
  auto shape = outline([](double s) { return s > 2 && s < 2.4 ? 0.24 : s >= 2.4 && s < 2.8 ? 0.36 : 0; });
  for (Recession& r : shape) r.seen = r.seen && !(r.row_mm > 2.34 && r.row_mm < 2.44);
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.36, kDepthMm);
  EXPECT_NEAR(found[0].chip.width_mm.value, 0.8, 0.05);
}

// Lower metal that shows in the middle of a gap hides a part of it; outline that is seen to be whole parts two.
TEST(PlanChips, JoinsAGapInWhichLowerMetalShows) {
  for (const bool whole : {false, true}) {
    auto shape = outline([&](double s) { return whole && s > 2.35 && s < 2.5 ? 0 : gap(s, 2.4, 0.3, 1); });
    for (Recession& r : shape) r.seen = whole || !(r.row_mm > 2.35 && r.row_mm < 2.55);
    const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
    ASSERT_EQ(found.size(), whole ? 2U : 1U);
    if (whole) continue;
    EXPECT_NEAR(found[0].chip.depth_mm.value, 0.3, kCoverage * found[0].chip.depth_mm.u());
    EXPECT_LT(found[0].chip.depth_mm.u(), 0.1);
    EXPECT_NEAR(found[0].chip.width_mm.value, 1, 0.05);
  }
}

// Where the edge's line of light is broken, the edge is gone, though only a part of the gap shows something else than
// the plate.
TEST(PlanChips, TakesABreakOfTheLineOfLightForTheGapsWidth) {
  auto shape = outline([](double s) { return gap(s, 2.5, 0.3, 0.6); });
  for (Recession& r : shape) {
    r.broken = r.behind_mm > 0;
    r.seen = !(r.row_mm > 2.1 && r.row_mm < 2.6);
  }
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.width_mm.value, 0.6, 0.05);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.3, kCoverage * found[0].chip.depth_mm.u());
  for (Recession& r : shape) r.broken = false;
  const auto half = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  EXPECT_TRUE(half.empty() || half[0].chip.width_mm.value < 0.4);
}

/// The outline as rows along the chain meet it, which run back over an edge of 30 degrees: `in_gap` from its outer end.
std::vector<Recession> along_the_chain(double from, double to, const std::function<double(double)>& in_gap) {
  auto out = outline([](double) { return 0.0; });
  for (Recession& r : out) {
    if (r.row_mm < from || r.row_mm >= to) continue;
    r.behind_mm = r.flat_mm = in_gap(r.row_mm - from);
    r.s_mm = r.row_mm + std::tan(M_PI / 6) * r.behind_mm;
    r.open = true;
  }
  return out;
}

// Rows run along a notch that leans, and meet little of it: its width is what it takes of the edge all the way down.
// Beside outline that is not seen it may be a scratch that goes on.
TEST(PlanChips, SeesThatANarrowNotchLeansOverItsEnd) {
  constexpr double kDeepMm = 0.13;
  auto notch = along_the_chain(2.5, 2.58, [&](double) { return kDeepMm; });
  const auto found = find_chips(notch, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.width_mm.value, 0.08 + std::tan(M_PI / 6) * kDeepMm, 0.02);
  EXPECT_NEAR(found[0].chip.depth_mm.value, kDeepMm, 0.01);
  for (Recession& r : notch) r.seen = !(r.row_mm > 2.58 && r.row_mm < 2.64);
  EXPECT_TRUE(find_chips(notch, {kMmPerPx}, 0.4, 0.98 * kEdgeMm).empty());
}

// Steel does not break out far under whole edge: such places are marks on the plate.
TEST(PlanChips, GivesUpWhatLiesUnderWholeEdge) {
  const auto shape = along_the_chain(2.5, 2.8, [](double way) { return way < 0.2 ? 0.2 * (1 - way / 0.3) : 0.8; });
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.2, 0.02);
}

// Where a part of the gap lies in shade, its bottom is the outline or the flat's end behind the shade: the depth lies
// between, and its uncertainty tells of both.
TEST(PlanChips, WidensWhereShadeHidesTheBottom) {
  auto shape = outline([](double s) { return gap(s, 1.5, 0.3, 1); });
  for (Recession& r : shape) {
    if (r.row_mm > 1.4 && r.row_mm < 1.6) r.flat_mm = r.behind_mm + 0.15;
  }
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  const Quantity& depth = found[0].chip.depth_mm;
  EXPECT_GT(depth.value, 0.33);
  EXPECT_LT(depth.value, 0.42);
  EXPECT_NEAR(depth.value, 0.3, kCoverage * depth.u());
  EXPECT_NEAR(depth.value, 0.45, kCoverage * depth.u() + 2 * kMmPerPx);
}

TEST(PlanChips, TellsADullSpotAWornCornerAndAScratchFromAChip) {
  EXPECT_TRUE(chips([](double s) { return 0.11 * std::exp(-std::pow((s - 3) / 0.7, 2)); }).empty());
  EXPECT_TRUE(chips([](double s) { return std::max(0.0, 0.3 - 0.6 * s); }).empty());
  EXPECT_TRUE(chips([](double s) { return gap(s, 3, 0.4, 0.1); }).empty());
}

// Beside outline that is not seen, a jump by a dull edge's strip is no chip; a deeper gap is one, told with doubt.
TEST(PlanChips, AsksForMoreWhereOneSideIsNotSeen) {
  for (const double depth : {0.11, 0.3}) {
    auto shape = outline([&](double s) { return s > 3 && s < 3.4 ? depth : 0; });
    for (Recession& r : shape) r.seen = !(r.row_mm > 2.2 && r.row_mm < 3.05);
    const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
    ASSERT_EQ(found.size(), depth > 0.2 ? 1U : 0U) << depth;
    if (!found.empty()) {
      // The outline may have jumped by a strip, and the gap may go on.
      const Quantity& told = found[0].chip.depth_mm;
      EXPECT_LT(told.value - kCoverage * told.u(), depth - 0.13);
      EXPECT_GT(told.value + kCoverage * told.u(), 1.6 * depth);
      EXPECT_GT(told.value - kCoverage * told.u(), 0.1) << "that there is a gap is no doubt";
    }
  }
}

TEST(PlanChips, StaysQuietOnARoughEdge) {
  EXPECT_TRUE(chips([](double s) { return 0.02 * std::sin(9 * s) + 0.01 * std::sin(31 * s + 1); }).empty());
}

// Nothing stands ahead of a filed edge's line: an outline that does is that of something below, and where it ends no
// chip begins.
TEST(PlanChips, TakesTheEndOfALowerOutlineForNone) {
  const auto beyond = [](double s) { return s > 1 && s < 2.2 ? -0.13 : gap(s, 2.5, 0.02, 0.5); };
  EXPECT_TRUE(chips(beyond).empty());
}

// One or two rows are scraps of the path where it found no contrast; a chip as deep is wider.
TEST(PlanChips, NeedsSeveralRowsTogether) {
  const auto scraps = [](double s) {
    const int row = static_cast<int>(std::lround((s - 3) / kMmPerPx));
    return row == 0 || row == 1 ? 0.14 : row > -4 && row < 10 ? 0.045 : 0.0;
  };
  EXPECT_TRUE(chips(scraps).empty());
  EXPECT_EQ(chips([](double s) { return gap(s, 3, 0.14, 0.3); }).size(), 1U);
}

TEST(PlanChips, SeesThroughToTheFlatWhereAWallShows) {
  auto shape = outline([](double s) { return gap(s, 1.4, 0.2, 1.2); });
  for (Recession& r : shape) r.flat_mm = 2.5 * r.behind_mm;
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.5, kDepthMm);
  EXPECT_GT(found[0].chip.depth_mm.u(), 0.03);
}

// Where the rest of a gap looks like the metal beneath, the part that is seen is no measure of the whole.
TEST(PlanChips, WidensAGapThatUnseenOutlineCutsOff) {
  auto shape = outline([](double s) { return gap(s, 3, 0.4, 1.6); });
  for (Recession& r : shape) r.seen = r.s_mm < 1 || r.s_mm > 2.8;
  const auto found = find_chips(shape, {kMmPerPx}, 0.4, 0.98 * kEdgeMm);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_NEAR(found[0].chip.depth_mm.value, 0.4, kCoverage * found[0].chip.depth_mm.u());
  // A strip shallower than what is seen to two thirds deeper.
  EXPECT_GT(found[0].chip.depth_mm.value, 0.28);
  EXPECT_GT(found[0].chip.depth_mm.u(), 0.09);
  EXPECT_NEAR(found[0].chip.width_mm.value, 1.6, kCoverage * found[0].chip.width_mm.u());
}

/// An outline with the flat's end behind it where a wall shows.
std::optional<FoundChip> corner_gap(const std::function<double(double)>& behind,
                                    const std::function<double(double)>& flat) {
  auto shape = outline(behind);
  for (Recession& r : shape) r.flat_mm = flat(r.s_mm);
  return find_corner_gap(shape, kMmPerPx);
}

std::optional<FoundChip> corner_gap(const std::function<double(double)>& behind) { return corner_gap(behind, behind); }

TEST(PlanChips, FindsTheGapOfABrokenCornerAndLooksPastTheWallToTheFlat) {
  // The side plate's own front shows 0.12 mm behind the line, the flat of the top plate ends up to 0.5 mm behind it.
  const auto step = [](double depth) { return [=](double s) { return 0.03 + (s < 0.8 ? depth : 0); }; };
  const auto walled = corner_gap(step(0.12), step(0.5));
  ASSERT_TRUE(walled);
  EXPECT_TRUE(walled->chip.at_corner);
  EXPECT_NEAR(walled->chip.depth_mm.value, 0.5, kDepthMm);
  EXPECT_NEAR(walled->chip.width_mm.value, 0.8, 0.05);
  EXPECT_GT(walled->chip.depth_mm.u(), 0.03);
  const auto open = corner_gap([](double s) { return gap(s, 0, 0.3, 1.4); });
  ASSERT_TRUE(open);
  EXPECT_NEAR(open->chip.depth_mm.value, 0.3, kDepthMm);
  EXPECT_NEAR(open->chip.width_mm.value, 0.7, 0.05);
}

// An arc of radius R that leaves the line at s = R: what wear and a semi-chisel's corner look like.
TEST(PlanChips, TakesNoWornOrRoundedCornerForABrokenOne) {
  for (const double radius : {0.15, 0.3, 0.6, 1.0, 2.0}) {
    const auto arc = [=](double s) { return s < radius ? radius - std::sqrt(s * (2 * radius - s)) : 0; };
    EXPECT_FALSE(corner_gap(arc)) << radius;
  }
  EXPECT_FALSE(corner_gap([](double s) { return std::max(0.0, 0.3 - 0.6 * s); }));
  EXPECT_FALSE(corner_gap([](double s) { return 0.12 * std::exp(-s / 0.5); }));
  EXPECT_FALSE(corner_gap([](double s) { return 0.02 * std::sin(9 * s) + 0.01 * std::sin(31 * s + 1); }));
  EXPECT_FALSE(corner_gap([](double s) { return gap(s, 1.2, 0.3, 0.8); }));
}

}  // namespace
}  // namespace glintline
