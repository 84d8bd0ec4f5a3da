#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <random>

#include "math/statistics.h"
#include "trace/plan_edge.h"
#include "trace/plan_gaps.h"

namespace glintline {
namespace {

constexpr double kPxPerMm = 60;
constexpr int kRows = 240;
/// Linear light, blue green red.
const cv::Vec3f kSteel(0.35F, 0.35F, 0.35F);
const cv::Vec3f kSlip(0.42F, 0.05F, 0.01F);

/// An edge straight along n = 0: steel behind it, `ground` ahead of it.
EdgeStrip straight_edge(const cv::Vec3f& steel, const cv::Vec3f& ground) {
  EdgeStrip strip;
  strip.frame.along = Point2::UnitX();
  strip.frame.length_px = kRows;
  strip.first_n = -96;
  strip.linear = cv::Mat(kRows, 252, CV_32FC3);
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < strip.linear.cols; ++i) strip.linear.at<cv::Vec3f>(j, i) = strip.n(i) < 0 ? steel : ground;
  }
  return strip;
}

EdgePath rough_path(double n, const cv::Vec3f& flat, const cv::Vec3f& ground) {
  EdgePath path;
  path.n_px.assign(kRows, n);
  path.line_px = path.flat_n_px = path.alike_n_px = path.n_px;
  path.contrast.assign(kRows, true);
  path.flat.assign(kRows, flat);
  path.ground.assign(kRows, ground);
  return path;
}

TEST(EdgeFrame, TellsThePlaceOfAPixelInItsObliqueCoordinates) {
  EdgeFrame frame;
  frame.corner_px = {400, 300};
  frame.along = Point2(0.6, 0.8);
  frame.ahead = Point2(1, 0);
  frame.sine = 0.8;
  const Point2 px = frame.px(120, -7.5);
  EXPECT_NEAR(frame.s(px), 120, 1e-9);
  EXPECT_NEAR(frame.n(px), -7.5, 1e-9);
}

/// Noise, softened as a lens does: a picture with something to show everywhere.
cv::Mat soft_noise() {
  cv::Mat picture(600, 800, CV_8UC3);
  cv::RNG random(5);
  random.fill(picture, cv::RNG::UNIFORM, 20, 230);
  cv::GaussianBlur(picture, picture, cv::Size(), 1.0);
  return picture;
}

// What one look took of an edge's surroundings serves another that sees it some pixels elsewhere, and none that sees
// another edge.
TEST(EdgeLight, ServesTheSameEdgeSeenALittleElsewhere) {
  const cv::Mat picture = soft_noise();
  const Sharpening sharpening{0.6, 1.4};
  EdgeFrame first;
  first.corner_px = {300, 280};
  first.along = Point2(0.8, 0.6);
  first.ahead = Point2(0, -1);
  first.sine = 0.8;
  first.length_px = 150;
  EdgeFrame second = first;
  second.corner_px += Point2(4.3, -2.6);
  const EdgeLight light = light_about(picture, sharpening, first, 60, 20);
  ASSERT_TRUE(light.holds(picture.size(), second, 60, 20));
  const cv::Mat shared = sample_edge(light, second, 60, 20).linear;
  const cv::Mat own = sample_edge(light_about(picture, sharpening, second, 60, 20), second, 60, 20).linear;
  ASSERT_GT(cv::mean(own)[1], 0.05);
  EXPECT_LT(cv::norm(shared, own, cv::NORM_INF), 1e-3);
  EdgeFrame elsewhere = first;
  elsewhere.corner_px += Point2(60, 0);
  EXPECT_FALSE(light.holds(picture.size(), elsewhere, 60, 20));
  EXPECT_FALSE(EdgeLight{}.holds(picture.size(), first, 60, 20));
}

// The plate takes light from the slip at its foot. That shade is of the slip's colour and no part of the plate:
// half-way between the slip's light further ahead and the steel would lie in it.
TEST(PlanOutline, TakesTheSlipsShadeAtThePlatesFootForGround) {
  for (const float left : {0.4F, 0.6F}) {
    EdgeStrip strip = straight_edge(kSteel, kSlip);
    for (int j = 0; j < kRows; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        const auto n = static_cast<float>(strip.n(i));
        if (n >= 0) strip.linear.at<cv::Vec3f>(j, i) *= std::min(1.0F, left + n * (1 - left) / 10);
      }
    }
    cv::GaussianBlur(strip.linear, strip.linear, cv::Size(0, 0), 2);
    EdgePath path = rough_path(1, kSteel, kSlip);
    sharpen_path(strip, kPxPerMm, path);
    // The half-step between samples and what the shade takes from the steel's own half.
    EXPECT_NEAR(path.n_px[kRows / 2], 0, 0.6) << left;
  }
}

// One edge's rounding mirrors the slip alike everywhere: where no strip was fitted beside a chip, the outline moves as
// it does elsewhere. A chip's bottom has no rounding.
TEST(PlanOutline, MovesAsItDoesElsewhereWhereNoStripWasFitted) {
  EdgePath path = rough_path(0, kSteel, kSlip);
  std::fill(path.n_px.begin() + 20, path.n_px.begin() + 30, -10.0);
  path.flat_n_px = path.n_px;
  std::vector<StripEnd> ends;
  for (int row = 60; row < 140; row += 5) ends.push_back({row, 1.2});
  move_to_strips(ends, 10, path);
  EXPECT_NEAR(path.n_px[100], 1.2, 1e-9);
  EXPECT_NEAR(path.n_px[40], 1.2, 1e-9);
  EXPECT_NEAR(path.n_px[200], 1.2, 1e-9);
  EXPECT_EQ(path.n_px[25], -10);
  EXPECT_EQ(path.flat_n_px[40], path.n_px[40]);
  EdgePath few = rough_path(0, kSteel, kSlip);
  move_to_strips({{60, 1.2}, {65, 1.2}}, 10, few);
  EXPECT_EQ(few.n_px[200], 0);
}

// Rust in a corner is about as dark as the rough metal beneath, but not the same: across the edge's line the light
// still steps. A gap shows the same ground on both sides of it.
TEST(PlanOutline, GivesUpAPatchInTheCornerThatIsNoGap) {
  const cv::Vec3f flat(0.6F, 0.6F, 0.6F);
  const cv::Vec3f ground(0.12F, 0.12F, 0.12F);
  const cv::Vec3f rust(0.16F, 0.19F, 0.30F);
  for (const bool gap : {false, true}) {
    EdgeStrip strip = straight_edge(flat, ground);
    for (int j = 4; j < 40; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        if (strip.n(i) < 0 && strip.n(i) > -25) strip.linear.at<cv::Vec3f>(j, i) = gap ? ground : rust;
      }
    }
    std::mt19937 random(5);
    std::normal_distribution<float> rough(1, 0.7F);
    for (int j = 0; j < kRows; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        cv::Vec3f& v = strip.linear.at<cv::Vec3f>(j, i);
        if (v == ground) v *= std::max(0.1F, rough(random));
      }
    }
    const EdgePath path = find_outline(strip, kPxPerMm);
    const auto seen = std::count(path.contrast.begin() + 8, path.contrast.begin() + 36, true);
    // Single rows beside the patch's ends may be told apart.
    EXPECT_TRUE(gap ? seen == 28 : seen < 8) << seen;
    EXPECT_NEAR(path.n_px[20], gap ? -25 : 0, 2);
  }
}

// A chip may lie in the plate's shadow as a whole: where the slip's light is learned, it is brighter than in the chip.
TEST(PlanOutline, FollowsAChipThatLiesInTheShadeAsAWhole) {
  EdgeStrip strip = straight_edge(kSteel, kSlip);
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < strip.linear.cols; ++i) {
      const bool chip = j >= 100 && j < 130 && strip.n(i) < 0 && strip.n(i) > -28;
      if (chip || (strip.n(i) >= 0 && strip.n(i) < 4)) strip.linear.at<cv::Vec3f>(j, i) = 0.45F * kSlip;
    }
  }
  const EdgePath path = find_outline(strip, kPxPerMm);
  for (int j = 104; j < 126; ++j) EXPECT_NEAR(path.n_px[j], -28, 2) << j;
  EXPECT_NEAR(path.n_px[60], 0, 4);
  EXPECT_TRUE(path.open[115]);
  EXPECT_FALSE(path.open[60]);
}

/// Where a line of light runs along the edge, at rows 90 to 124 `patch` stands in its place and 20 px behind it, and as
/// far ahead of it as `beyond`, over ground that looks much like the flat; on from there, up to 40 px ahead, `ahead`.
EdgeStrip strip_with_break(const cv::Vec3f& patch, double beyond, std::optional<cv::Vec3f> ahead = {}) {
  const cv::Vec3f flat(0.22F, 0.22F, 0.22F);
  const cv::Vec3f ground(0.15F, 0.15F, 0.15F);
  EdgeStrip strip = straight_edge(flat, ground);
  std::mt19937 random(5);
  std::normal_distribution<float> mottled(1, 0.12F);
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < strip.linear.cols; ++i) {
      const double n = strip.n(i);
      cv::Vec3f& v = strip.linear.at<cv::Vec3f>(j, i);
      if (std::abs(n + 2) < 1.5) v = cv::Vec3f(0.7F, 0.7F, 0.7F);
      if (j >= 90 && j < 125 && n > -22 && n < beyond) v = patch;
      if (ahead && j >= 90 && j < 125 && n >= beyond && n < 40) v = *ahead;
      v *= mottled(random);
    }
  }
  cv::GaussianBlur(strip.linear, strip.linear, cv::Size(0, 0), 1.5, 1);
  return strip;
}

EdgePath outline_with_break(const cv::Vec3f& patch, double beyond) {
  return find_outline(strip_with_break(patch, beyond), kPxPerMm);
}

// A broken line of light is a chip where what lies ahead of the edge shows in it, though that looks like neither flat
// nor ground; a patch that ends at the edge is dirt.
TEST(PlanOutline, FollowsAChipThatBreaksTheLineOfLight) {
  const cv::Vec3f hub(0.07F, 0.07F, 0.075F);
  const EdgePath chip = outline_with_break(hub, 40);
  for (int j = 98; j < 118; ++j) EXPECT_NEAR(chip.n_px[j], -22, 2.5) << j;
  EXPECT_TRUE(chip.contrast[108]);
  EXPECT_TRUE(chip.broken[108]);
  EXPECT_FALSE(chip.broken[60]);
  const auto followed = [](const EdgePath& path) {
    return std::count_if(path.n_px.begin() + 98, path.n_px.begin() + 118, [](double n) { return n < -8; });
  };
  EXPECT_LT(followed(outline_with_break(cv::Vec3f(0.34F, 0.36F, 0.40F), 0)), 5);
  // What ends at the line may also be the broken plate's own wall, in the shade; resin is as dark, but warm.
  EXPECT_GT(followed(outline_with_break(cv::Vec3f(0.03F, 0.03F, 0.03F), 0)), 15);
  EXPECT_LT(followed(outline_with_break(cv::Vec3f(0.01F, 0.02F, 0.04F), 0)), 5);
}

// A mark on the plate, before metal of nearly its brightness, hides the line of light as a gap does that shows the
// metal; but over the mark the light changes at the edge's line.
TEST(PlanOutline, TakesAMarkBeforeMetalOfItsBrightnessForNoGap) {
  const cv::Vec3f mark(0.30F, 0.30F, 0.30F);
  const auto told = [&](const cv::Vec3f& ahead) {
    const EdgeStrip strip = strip_with_break(mark, -1, ahead);
    EdgePath path = rough_path(0, kSteel, kSteel);
    path.flash_n_px.assign(kRows, -2.0);
    std::fill(path.flash_n_px.begin() + 90, path.flash_n_px.begin() + 125, std::nullopt);
    std::vector<int> columns(kRows, static_cast<int>(strip.column(0)));
    cv::Mat roots;
    cv::sqrt(strip.linear, roots);
    const std::vector<bool> rows = follow_breaks(path, columns, strip, roots, kPxPerMm);
    return std::count(rows.begin(), rows.end(), true);
  };
  EXPECT_EQ(told(cv::Vec3f(0.345F, 0.345F, 0.345F)), 0);
  EXPECT_GT(told(mark), 25);
}

/// Rows 100 to 140 are followed 14 px behind the line; up to there the metal is of `patch`.
EdgePath followed_behind(const cv::Vec3f& patch) {
  const cv::Vec3f ground(0.12F, 0.12F, 0.12F);
  EdgeStrip strip = straight_edge(kSteel, ground);
  EdgePath path = rough_path(0, kSteel, ground);
  for (int j = 100; j < 140; ++j) {
    path.n_px[j] = -14;
    for (int i = 0; i < strip.linear.cols; ++i) {
      if (strip.n(i) >= -14 && strip.n(i) < 0) strip.linear.at<cv::Vec3f>(j, i) = patch;
    }
  }
  cv::Mat roots;
  cv::sqrt(strip.linear, roots);
  give_up_marks(path, strip, roots);
  return path;
}

// What lies ahead of an edge goes on through a gap in it; before a mark on the plate it ends at the edge's line.
TEST(PlanOutline, GivesUpAMarkThatEndsAtTheEdgesLine) {
  const auto seen = [](const EdgePath& path) { return std::count(path.contrast.begin(), path.contrast.end(), true); };
  EXPECT_EQ(seen(followed_behind({0.12F, 0.12F, 0.12F})), kRows);
  EXPECT_EQ(seen(followed_behind({0.20F, 0.20F, 0.20F})), kRows - 40);
}

// Over a slip its colour tells the outline: where the line of light is broken there, the light is uneven.
TEST(PlanOutline, TakesABreakOfTheLineOfLightOverASlipForNoGap) {
  EdgeStrip strip = straight_edge(kSteel, kSlip);
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < strip.linear.cols; ++i) {
      const double n = strip.n(i);
      const bool dark = n > -10 && n < -4;
      const bool light = std::abs(n + 2) < 1.5 && (j < 90 || j >= 125);
      if (dark) strip.linear.at<cv::Vec3f>(j, i) = 0.2F * kSteel;
      if (light) strip.linear.at<cv::Vec3f>(j, i) = 2.5F * kSteel;
    }
  }
  cv::GaussianBlur(strip.linear, strip.linear, cv::Size(0, 0), 1.5, 1);
  const EdgePath path = find_outline(strip, kPxPerMm);
  for (int j = 95; j < 120; ++j) {
    EXPECT_NEAR(path.n_px[j], 0, 2) << j;
    EXPECT_FALSE(path.broken[j]);
  }
}

/// A gap in the shade of `share` of the flat's light from 3 mm on, down to 30 px, with the slip up to 14 px in it;
/// behind it the flat brightens step by step where `drifts`.
EdgePath outline_with_shade(float share, bool drifts) {
  EdgeStrip strip = straight_edge(kSteel, kSlip);
  strip.first_s = 3 * kPxPerMm;
  for (int j = 0; j < kRows; ++j) {
    for (int i = 0; i < strip.linear.cols; ++i) {
      const double n = strip.n(i);
      cv::Vec3f& v = strip.linear.at<cv::Vec3f>(j, i);
      if (drifts && n < 0) v *= static_cast<float>(1 + 0.004 * std::max(0.0, 40 + n));
      if (j < 90 || j >= 130 || n >= 0) continue;
      if (n > -30) v = share * kSteel;
      if (n > -14) v = kSlip;
    }
  }
  cv::GaussianBlur(strip.linear, strip.linear, cv::Size(0, 0), 1);
  return find_outline(strip, kPxPerMm);
}

// A slip reaches under a part of a gap only: what is dark beyond its end is no plate, wherever along the edge.
TEST(PlanOutline, SeesPastASlipsEndToTheFlat) {
  const EdgePath shade = outline_with_shade(0.15F, false);
  const EdgePath none = outline_with_shade(1, true);
  for (int j = 100; j < 120; ++j) {
    EXPECT_NEAR(shade.n_px[j], -14, 2) << j;
    EXPECT_NEAR(shade.flat_n_px[j], -30, 3) << j;
    EXPECT_NEAR(none.flat_n_px[j], none.n_px[j], 1) << j;
  }
}

// Before metal as bright as a rounding's strip the outline ends the flat, before dark ground the strip: that is the
// same edge. A short piece that stands ahead is something below.
TEST(PlanOutline, KeepsTheOutlineOfAStripWhereTheGroundIsDark) {
  const cv::Vec3f flat(0.25F, 0.25F, 0.25F);
  const cv::Vec3f bright(0.6F, 0.6F, 0.6F);
  const cv::Vec3f dark(0.03F, 0.03F, 0.03F);
  constexpr double kStripPx = 3;
  for (const int rows : {40, 6}) {
    EdgeStrip strip = straight_edge(flat, bright);
    for (int j = 60; j < 60 + rows; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        if (strip.n(i) > kStripPx) strip.linear.at<cv::Vec3f>(j, i) = dark;
      }
    }
    cv::GaussianBlur(strip.linear, strip.linear, cv::Size(0, 0), 1.5, 1);
    const EdgePath path = find_outline(strip, kPxPerMm);
    EXPECT_NEAR(path.n_px[30], 0, 2);
    if (rows > 10) {
      EXPECT_TRUE(path.contrast[80]);
      EXPECT_NEAR(path.n_px[80], kStripPx, 2.5);
    } else {
      EXPECT_FALSE(path.contrast[63] && path.n_px[63] > 2);
    }
  }
}

// Rust on the edge may be no darker than the metal beneath, but it is redder. A gap shows the metal itself.
TEST(PlanOutline, GivesUpRustOnTheEdgeThatIsAsBrightAsTheGround) {
  const cv::Vec3f flat(0.5F, 0.5F, 0.5F);
  const cv::Vec3f ground(0.27F, 0.27F, 0.27F);
  struct Patch {
    cv::Vec3f light;
    bool gap;
  };
  for (const Patch& patch : {Patch{{0.20F, 0.25F, 0.36F}, false}, Patch{ground, true}}) {
    EdgeStrip strip = straight_edge(flat, ground);
    for (int j = 100; j < 118; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        if (strip.n(i) < 0 && strip.n(i) > -9) strip.linear.at<cv::Vec3f>(j, i) = patch.light;
      }
    }
    std::mt19937 random(5);
    std::normal_distribution<float> rough(1, 0.35F);
    for (int j = 0; j < kRows; ++j) {
      for (int i = 0; i < strip.linear.cols; ++i) {
        cv::Vec3f& v = strip.linear.at<cv::Vec3f>(j, i);
        if (v == ground) v *= std::max(0.1F, rough(random));
      }
    }
    const EdgePath path = find_outline(strip, kPxPerMm);
    const auto gaps = std::count_if(path.n_px.begin() + 102, path.n_px.begin() + 116, [](double n) { return n < -6; });
    EXPECT_EQ(gaps > 10, patch.gap) << patch.light[0] << ": " << gaps;
  }
}

// A path that the cheapest way left far inside, at a rounded corner's bend, is brought to where a slip begins. Without
// a slip what differs so far out may be anything.
TEST(PlanOutline, SharpensAPathFarInsideOverASlip) {
  constexpr double kInsidePx = 5.5;
  for (const bool slip : {true, false}) {
    const EdgeStrip strip = straight_edge(kSteel, slip ? kSlip : cv::Vec3f(0.15F, 0.15F, 0.15F));
    EdgePath path = find_outline(strip, kPxPerMm);
    for (int j = 40; j < 80; ++j) path.n_px[j] = path.flat_n_px[j] = -kInsidePx;
    sharpen_path(strip, kPxPerMm, path);
    EXPECT_NEAR(path.n_px[60], slip ? 0 : -kInsidePx, 0.5);
    EXPECT_NEAR(path.n_px[20], 0, 0.5);
  }
}

}  // namespace
}  // namespace glintline
