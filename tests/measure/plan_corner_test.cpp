#include "measure/plan_corner.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.016;
constexpr double kTanAngle = 0.5;
constexpr double kWidthMm = 5;

using Shape = std::function<double(double)>;

/// Outline with `ahead` and `alike` as functions of the way from the outer side; the edge's line goes through the
/// inner end.
std::vector<CornerPlace> outline(const Shape& ahead, const Shape& alike) {
  std::vector<CornerPlace> out;
  for (double in = 0; in < kWidthMm; in += kMmPerPx) {
    const double line = kTanAngle * (kWidthMm - in);
    out.push_back({in, ahead(in), (line - ahead(in)) / std::hypot(1, kTanAngle), alike(in)});
  }
  return out;
}

/// A semi-chisel's outline: straight, then bent by `radius` and filed back with the depth, as a cylinder's upper part
/// does by about 0.7 mm a millimetre.
double semi_chisel(double in, double radius) {
  const double u = std::max(0.0, radius - in);
  const double depth = radius - std::sqrt(std::max(0.0, radius * radius - u * u));
  return kTanAngle * (kWidthMm - in) - 0.7 * depth;
}

// The gullet's floor shows from 0.5 mm to the side on, ahead of a semi-chisel's own outline.
TEST(PlanCorner, EndsWhereLowerMetalShowsAheadOfTheBend) {
  for (const double radius : {1.4, 1.7, 2.0}) {
    for (const double leads : {0.12, 0.15}) {
      const auto lower = [&](double in) { return leads * std::clamp((0.5 - in) / 0.15, 0.0, 1.0); };
      const auto end = outline_end(outline([&](double in) { return semi_chisel(in, radius) + lower(in); },
                                           [&](double in) { return 0.02 + lower(in); }),
                                   kMmPerPx);
      ASSERT_TRUE(end) << radius << " " << leads;
      EXPECT_NEAR(end->in_mm, 0.5, 0.15) << radius << " " << leads;
      EXPECT_NEAR(end->strip_mm, 0.02, 1e-9);
      EXPECT_NEAR(end->ahead_mm, semi_chisel(end->in_mm, radius), 0.01);
      EXPECT_GE(end->rise, 0);
      EXPECT_LT(end->rise, kTanAngle);
    }
  }
}

// The bend itself ends within the last quarter of a millimetre: beside it lower metal looks like the plate here and
// there, and the light tells nothing more.
TEST(PlanCorner, EndsWhereTheLightGoesOnForAWhileOnly) {
  const auto lower = [](double in) { return 0.6 * std::clamp(0.6 - in, 0.0, 0.6); };
  const auto alike = [&](double in) {
    if (in > 0.3) return 0.01 + lower(in);
    return in > 0.2 ? 0.01 : in > 0.1 ? 0.1 : 0.3;
  };
  const auto end = outline_end(outline([&](double in) { return semi_chisel(in, 1.7) + lower(in); }, alike), kMmPerPx);
  ASSERT_TRUE(end);
  EXPECT_NEAR(end->in_mm, 0.6, 0.15);
}

// The same where lower metal comes ahead of the bend little by little: every single step is as small as the tangent's
// own uncertainty.
TEST(PlanCorner, EndsWhereLowerMetalComesAheadLittleByLittle) {
  const auto bend = [](double in) {
    return kTanAngle * (kWidthMm - std::max(in, 1.4)) + 0.3 * std::max(0.0, 1.4 - in);
  };
  const auto lower = [](double in) { return 0.27 * std::max(0.0, 0.4 - in); };
  const auto end = outline_end(
      outline([&](double in) { return bend(in) + lower(in); }, [&](double in) { return 0.02 + 1.2 * lower(in); }),
      kMmPerPx);
  ASSERT_TRUE(end);
  EXPECT_NEAR(end->in_mm, 0.4, 0.15);
  EXPECT_FALSE(end->doubtful);
}

// The side plate's front goes on as straight as the slip behind it, hardly ahead of the bend's tangent, while the
// plate's light ends ever farther behind it.
TEST(PlanCorner, EndsWhereTheLightEndsEverEarlierAndTheOutlineRunsStraightOn) {
  const auto own = [](double in) { return semi_chisel(in, 1.0); };
  const auto ahead = [&](double in) { return in > 0.5 ? own(in) : own(0.5) + 0.42 * (0.5 - in); };
  const auto alike = [&](double in) { return 0.045 + ahead(in) - own(in); };
  const auto end = outline_end(outline(ahead, alike), kMmPerPx);
  ASSERT_TRUE(end);
  EXPECT_NEAR(end->in_mm, 0.5, 0.15);
  EXPECT_FALSE(end->doubtful);
  // The same outline, the light's end beside it all the way: the plate's own.
  EXPECT_FALSE(outline_end(outline(ahead, [](double) { return 0.045; }), kMmPerPx));
}

// An edge that runs on its line up to the side, where dirt moves it back a little at one place and stains beside it end
// the plate's light early, farther and farther.
TEST(PlanCorner, TakesAStainBesideAStraightEdgeForNoEnd) {
  const auto ahead = [](double in) {
    return kTanAngle * (kWidthMm - in) - (in > 1.1 && in < 1.3 ? 0.09 : 0.0);
  };
  const auto alike = [](double in) { return in > 1.1 ? 0.0 : in > 0.7 ? 0.06 : 0.4 + 0.5 * (0.7 - in); };
  EXPECT_FALSE(outline_end(outline(ahead, alike), kMmPerPx));
}

// A bend that has turned square to the chain and jumps ahead in its last tenth of a millimetre, while the light tells
// nothing: the file's cut or a sliver of what lies below.
TEST(PlanCorner, DoubtsAJumpAheadBesideTheSide) {
  const auto none = [](double) { return 0.01; };
  const auto jumps = [](double in) { return semi_chisel(in, 1.2) + (in < 0.1 ? 0.2 : 0); };
  const auto end = outline_end(outline(jumps, none), kMmPerPx);
  ASSERT_TRUE(end);
  EXPECT_TRUE(end->doubtful);
  EXPECT_NEAR(end->in_mm, 0.15, 0.05);
}

// A bend alone, one that turns ahead by itself and looks alike up to its outline, and one that is stained are all the
// plate's own.
TEST(PlanCorner, FollowsAPlatesOwnOutlineUpToTheSide) {
  const auto none = [](double) { return 0.02; };
  const auto stained = [](double in) { return in < 0.8 ? 0.3 : 0.02; };
  for (const double radius : {0.0, 0.2, 1.0, 1.5, 2.0}) {
    const auto bent = [&](double in) { return semi_chisel(in, radius); };
    EXPECT_FALSE(outline_end(outline(bent, none), kMmPerPx)) << radius;
    EXPECT_FALSE(outline_end(outline(bent, stained), kMmPerPx)) << radius;
  }
  const auto flared = [](double in) { return semi_chisel(in, 1.6) + (in < 0.5 ? 0.8 * (0.5 - in) : 0); };
  EXPECT_FALSE(outline_end(outline(flared, none), kMmPerPx));
}

// The traced outline may be drawn on along the edge's line over lower metal; the plate's light ends well behind it.
TEST(PlanCorner, EndsWhereTheLineIsFollowedOverLowerMetal) {
  const auto line = [](double in) { return kTanAngle * (kWidthMm - in); };
  const auto drawn = [&](double in) { return in < 0.6 ? line(in) - 0.02 : semi_chisel(in, 1.6); };
  const auto alike = [&](double in) { return drawn(in) - semi_chisel(in, 1.6) + 0.01; };
  const auto end = outline_end(outline(drawn, alike), kMmPerPx);
  ASSERT_TRUE(end);
  EXPECT_NEAR(end->in_mm, 0.6, 0.15);
}

// Outline that comes back to the edge's line is the other side of a chip, whatever shows in it.
TEST(PlanCorner, TakesAChipForNoEnd) {
  const auto gap = [](double in) { return in > 0.8 && in < 1.6 ? 0.25 * std::sin(M_PI * (in - 0.8) / 0.8) : 0; };
  const auto chipped = [&](double in) { return semi_chisel(in, 0.1) - gap(in); };
  EXPECT_FALSE(outline_end(outline(chipped, [&](double in) { return in < 1.2 ? 0.15 : 0.01; }), kMmPerPx));
}

// A chip in the bend falls back in a wall; what lies ahead of its bottom is the rest of the bend, even where a stain
// ends the plate's light behind it.
TEST(PlanCorner, TakesTheBendBeyondAChipForNoEnd) {
  const auto chip = [](double in) { return in > 1.3 ? 0.3 * std::clamp((1.95 - in) / 0.15, 0.0, 1.0) : 0; };
  const auto chipped = [&](double in) { return semi_chisel(in, 2) - chip(in); };
  const auto stained = [](double in) { return std::clamp((1.75 - in) / 0.3, 0.0, 1.0) * 0.25 + (in < 1.3 ? 0.3 : 0); };
  EXPECT_FALSE(outline_end(outline(chipped, stained), kMmPerPx));
}

/// The outline without the places from `low` to `high` mm beside the side.
std::vector<CornerPlace> unseen(std::vector<CornerPlace> places, double low, double high) {
  std::erase_if(places, [&](const CornerPlace& p) { return p.in_mm >= low && p.in_mm < high; });
  return places;
}

std::vector<CornerPlace> evenly_lit(const Shape& ahead) {
  return outline(ahead, [](double) { return 0.02; });
}

// A bend that is not seen on its last half millimetre: what is left of it lies between no further ahead and the
// tangent, and a scrap of lower metal where the line was followed changes nothing.
TEST(PlanCorner, TellsWhereABendIsLost) {
  for (const double radius : {1.2, 1.6, 1.9}) {
    const auto bend = [&](double in) { return semi_chisel(in, radius); };
    double most = -1e9;
    for (double in = 0; in < 0.5; in += 0.001) most = std::max(most, bend(in));
    const auto line = [](double in) { return kTanAngle * (kWidthMm - in); };
    const auto scrap = [&](double in) { return in > 0.2 && in < 0.3 ? line(in) : bend(in); };
    const auto bare = unseen(evenly_lit(bend), 0, 0.5);
    const auto patched = unseen(unseen(evenly_lit(scrap), 0, 0.2), 0.3, 0.5);
    for (const auto& places : {bare, patched}) {
      const auto end = lost_bend(places, kMmPerPx);
      ASSERT_TRUE(end) << radius;
      EXPECT_TRUE(end->lost);
      EXPECT_NEAR(end->in_mm, 0.55, 0.01) << radius;
      EXPECT_NEAR(end->bend_mm, radius, 0.4) << radius;
      EXPECT_GT(bend(end->in_mm) + end->rise * end->in_mm, most) << radius;
    }
  }
}

// Of a chisel that is lost on its straight part, a bend seen up to the side and the edge beyond a chip nothing is lost.
TEST(PlanCorner, LosesNoBendWhereThereIsNone) {
  const auto line = [](double in) { return kTanAngle * (kWidthMm - in); };
  EXPECT_FALSE(lost_bend(unseen(evenly_lit(line), 0, 0.6), kMmPerPx));
  EXPECT_FALSE(lost_bend(evenly_lit([](double in) { return semi_chisel(in, 1.6); }), kMmPerPx));
  const auto chip = [&](double in) { return line(in) - 0.4 * std::max(0.0, std::min(in - 0.6, 1.2 - in)); };
  EXPECT_FALSE(lost_bend(evenly_lit(chip), kMmPerPx));
  const auto one_wall = [&](double in) { return line(in) - (in > 0.7 && in < 1.2 ? 0.4 * (1.2 - in) : 0); };
  EXPECT_FALSE(lost_bend(evenly_lit(one_wall), kMmPerPx));
  const auto wall = [&](double in) { return line(in) - (in < 1.2 ? 0.3 : 0); };
  EXPECT_FALSE(lost_bend(unseen(evenly_lit(wall), 0, 0.5), kMmPerPx));
}

// A bend that is lost a quarter of a millimetre before the side, and a scrap on the edge's line beyond the gap: no
// sliver that may be the plate's own.
TEST(PlanCorner, LosesABendBeforeAScrapBeyondAGap) {
  auto places = outline([](double in) { return in > 0.12 ? semi_chisel(in, 1.0) : kTanAngle * (kWidthMm - in) + 0.03; },
                        [](double) { return 0.05; });
  std::erase_if(places, [](const CornerPlace& p) { return p.in_mm < 0.3 && p.in_mm > 0.1; });
  EXPECT_FALSE(outline_end(places, kMmPerPx));
  const auto lost = lost_bend(places, kMmPerPx);
  ASSERT_TRUE(lost);
  EXPECT_TRUE(lost->lost);
  EXPECT_NEAR(lost->in_mm, 0.35, 0.1);
}

TEST(PlanCorner, NeedsAnOutline) { EXPECT_FALSE(outline_end({}, kMmPerPx)); }

}  // namespace
}  // namespace glintline
