#include "trace/edge_profile.h"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <string>

#include "math/statistics.h"

namespace glintline {
namespace {

/// A step of the profile: light added from `at` on, blurred by `blur` samples.
struct Step {
  double at;
  double along;   ///< change of the field's own light, share of its level
  double across;  ///< of the rest, share of the field's level
  double blur;
};

constexpr double kLevel = 0.18;  // linear light of a blue field, about
constexpr int kCount = 48;

EdgeProfile profile_of(const std::vector<Step>& steps, double noise = 0, unsigned seed = 0) {
  std::mt19937 random(seed);
  std::normal_distribution<double> grain(0, 1);
  EdgeProfile p;
  for (int i = 0; i < kCount; ++i) {
    double along = 1;
    double across = 0;
    for (const Step& s : steps) {
      const double share = 0.5 * std::erfc(-(i - s.at) / (s.blur * std::sqrt(2.0)));
      along += s.along * share;
      across += s.across * share;
    }
    p.along.push_back(static_cast<float>(kLevel * (along + noise * grain(random))));
    p.across.push_back(static_cast<float>(kLevel * std::abs(across + noise * grain(random))));
  }
  return p;
}

constexpr double kBlur = 1.5;      // samples: a usual photograph's
constexpr double kReach = 4 * kBlur + 3;
constexpr double kNoise = 0.02;    // of the field's level: a phone's grain, three profiles averaged
// One crossing in twenty or so is taken for a rim's two steps and lands about two samples outside; the fits through the
// outline reject such points, so the usual scatter counts, and the far ones are only bounded.
constexpr double kFarSd = 0.8;
constexpr double kCleanSamples = 0.05;  // interpolation between samples

TEST(EdgeProfile, FindsCleanSingleStepsToATwentiethOfASample) {
  for (const double blur : {1.25, 1.5, 2.5}) {
    for (const double across : {0.15, 0.5, 1.5, 4.0}) {
      for (double at = 27; at < 29; at += 0.13) {
        const EdgeSigns signs = find_edge(profile_of({{at, -0.7, across, blur}}), 28, 4 * blur + 3, blur);
        ASSERT_TRUE(signs.rise) << at << " " << across;
        EXPECT_NEAR(signs.rise->at, at, kCleanSamples) << "blur " << blur << " across " << across;
      }
    }
  }
}

TEST(EdgeProfile, TellsAStepsHeightAndAnUpperBoundOfItsBlur) {
  const EdgeSigns signs = find_edge(profile_of({{28.3, -0.7, 0.8, kBlur}}), 28, kReach, kBlur);
  ASSERT_TRUE(signs.rise);
  EXPECT_NEAR(signs.rise->step, 0.8, 0.02);
  EXPECT_GT(signs.rise->blur, 0.95 * kBlur);
  EXPECT_LT(signs.rise->blur, 1.25 * kBlur);  // differences over a whole sample see a 1.5 wider edge as up to a tenth more
}

struct Scatter {
  int seen = 0;
  double bias = 0;
  double sd = 0;
  double usual_sd = 0;  ///< by the median absolute deviation: without the far ones
};

enum class Sign { kRise, kDrop };

/// Steps at known places of many profiles with noise; `steps` are shifted by a random part of a sample.
Scatter scatter(std::vector<Step> steps, double truth, Sign sign, double noise) {
  std::vector<double> errors;
  std::mt19937 random(11);
  std::uniform_real_distribution<double> off(-1.5, 1.5);
  constexpr int kTrials = 400;
  for (int k = 0; k < kTrials; ++k) {
    const double shift = off(random);
    std::vector<Step> moved = steps;
    for (Step& s : moved) s.at += shift;
    // The coarse place is some samples off.
    const EdgeSigns signs = find_edge(profile_of(moved, noise, 1000 + k), truth + shift + off(random), kReach, kBlur);
    const auto& found = sign == Sign::kRise ? signs.rise : signs.drop;
    if (found) errors.push_back(found->at - truth - shift);
  }
  return {static_cast<int>(errors.size()) * 100 / kTrials, mean(errors), standard_deviation(errors), mad_sigma(errors)};
}

void report(const std::string& what, const Scatter& s) {
  ::testing::Test::RecordProperty(what + "_bias", std::to_string(s.bias));
  ::testing::Test::RecordProperty(what + "_sd", std::to_string(s.sd));
  std::printf("  %-28s seen %3d %%  bias %+.3f  sd %.3f  usual sd %.3f samples\n", what.c_str(), s.seen, s.bias, s.sd,
              s.usual_sd);
}

TEST(EdgeProfile, FindsBrightSteelInNoise) {
  const Scatter s = scatter({{28, -0.6, 1.2, kBlur}}, 28, Sign::kRise, kNoise);
  report("bright steel", s);
  EXPECT_EQ(s.seen, 100);
  // The highest place of a noisy plateau lies over its mean: half of it, a little further in.
  EXPECT_LT(std::abs(s.bias), 0.15);
  EXPECT_LT(s.usual_sd, 0.12);
  EXPECT_LT(s.sd, kFarSd);
}

TEST(EdgeProfile, FindsDimSteelInNoise) {
  const Scatter s = scatter({{28, -0.9, 0.25, kBlur}}, 28, Sign::kRise, kNoise);
  report("dim steel", s);
  EXPECT_GE(s.seen, 99);
  EXPECT_LT(std::abs(s.bias), 0.5);
  EXPECT_LT(s.sd, 0.5);
}

TEST(EdgeProfile, FindsTheOuterOfARimsTwoSteps) {
  const Scatter s = scatter({{28, -0.3, 0.35, kBlur}, {28 + 3 * kBlur, -0.3, 0.9, kBlur}}, 28, Sign::kRise, kNoise);
  report("two-step rim", s);
  EXPECT_GE(s.seen, 99);
  // Half of the whole rise would lie about 4 samples further in.
  EXPECT_LT(std::abs(s.bias), 0.75);
  EXPECT_LT(s.sd, 0.75);
}

TEST(EdgeProfile, FindsBothEndsOfAStripThatMirrorsTheField) {
  const std::vector<Step> strip{{28, -0.5, 0.02, kBlur}, {33, -0.1, 1.0, kBlur}};
  const Scatter drop = scatter(strip, 28, Sign::kDrop, kNoise);
  const Scatter rise = scatter(strip, 33, Sign::kRise, kNoise);
  report("mirror strip, drop", drop);
  report("mirror strip, rise", rise);
  EXPECT_GE(drop.seen, 98);
  EXPECT_GE(rise.seen, 99);
  EXPECT_LT(std::abs(drop.bias), 0.4);
  EXPECT_LT(std::abs(rise.bias), 0.5);
  EXPECT_LT(drop.sd, 0.4);
  EXPECT_LT(rise.usual_sd, 0.2);
  EXPECT_LT(rise.sd, 1.0);  // an eighth of the crossings: the strip's own grain makes a step outside the bare steel
}

// A top seen from above mirrors the field over its whole width: its far rim lies far outside the bare steel.
TEST(EdgeProfile, FindsTheFarRimOfAWideMirroringTop) {
  const std::vector<Step> steps{{20, -0.6, 0, kBlur}, {38, 0.4, 0.8, kBlur}};
  for (unsigned seed = 0; seed < 100; ++seed) {
    const EdgeSigns narrow = find_edge(profile_of(steps, kNoise, seed), 38, kReach, kBlur);
    const EdgeSigns wide = find_edge(profile_of(steps, kNoise, seed), 38, kReach, kBlur, 16);
    ASSERT_TRUE(narrow.rise && wide.rise && wide.drop) << seed;
    EXPECT_NEAR(wide.drop->at, 20, 1) << seed;
    // Who does not expect a wide strip sees the near rim only, and takes the strip for the open field.
    EXPECT_TRUE(!narrow.drop || narrow.drop->at > 26) << seed;
  }
}

// Coarse colour: the field pales over the last samples before bright steel, at its own brightness.
TEST(EdgeProfile, TakesNoFallOfColourAloneForAnEdge) {
  constexpr double kSmear = 6;
  int coarse = 0;
  int fine = 0;
  for (unsigned seed = 0; seed < 100; ++seed) {
    EdgeProfile p = profile_of({{25, -0.4, 0.05, kBlur}, {30, 0.8, 1.2, kBlur}}, kNoise, seed);
    const EdgeSigns by_colour = find_edge(p, 28, kReach, kBlur);
    fine += by_colour.drop && std::abs(by_colour.drop->at - 25) < 1.5 ? 1 : 0;
    for (int i = 0; i < kCount; ++i) p.grey.push_back(static_cast<float>(kLevel * (i < 30 ? 1 : 2)));
    p.smear = kSmear;
    const EdgeSigns signs = find_edge(p, 28, kReach, kBlur);
    ASSERT_TRUE(signs.rise) << seed;
    coarse += signs.drop ? 1 : 0;
    // A strip that is darker as well is steel that mirrors the field, however narrow.
    for (int i = 25; i < 30; ++i) p.grey[i] *= 0.6F;
    EXPECT_TRUE(find_edge(p, 28, kReach, kBlur).drop) << seed;
  }
  EXPECT_GE(fine, 90);
  EXPECT_EQ(coarse, 0);
}

TEST(EdgeProfile, TellsHowWideAFallIs) {
  const auto width = [](double blur) {
    const EdgeSigns signs = find_edge(profile_of({{28, -0.5, 0, blur}}), 28, kReach, 2 * kBlur);
    return signs.drop ? signs.drop->width : 0;
  };
  // Quarter to three quarters of a Gaussian's step: 1.35 of its standard deviation, in whole samples.
  EXPECT_NEAR(width(kBlur), 1.35 * kBlur, 1);
  EXPECT_NEAR(width(3 * kBlur), 1.35 * 3 * kBlur, 1);
}

// A cast shadow's border, five times as soft as edges in focus. In coarser grain than this the steepest sample-to-sample
// difference no longer tells how soft it is.
// A rounded shoulder: from 12 on it mirrors the darker part of the field, with more and more light of its own as it turns
// towards the lamp, and at 30 the bare steel flashes. A shadow as dark and as wide keeps the field's colour.
TEST(EdgeProfile, TellsAStripOfSteelFromAShadowByItsOwnLight) {
  int steel = 0;
  int shadow = 0;
  constexpr int kProfiles = 200;
  for (unsigned seed = 0; seed < kProfiles; ++seed) {
    const EdgeProfile strip = profile_of({{12, -0.5, 0, kBlur}, {19, 0, 0.3, 4}, {34, 0.4, 1.2, kBlur}}, kNoise, seed);
    const EdgeProfile dark = profile_of({{12, -0.5, 0, kBlur}, {34, 0.4, 1.2, kBlur}}, kNoise, 1000 + seed);
    steel += strip_is_steel(strip, find_edge(strip, 35, kReach, kBlur, 16), kBlur) ? 1 : 0;
    shadow += strip_is_steel(dark, find_edge(dark, 35, kReach, kBlur, 16), kBlur) ? 1 : 0;
  }
  EXPECT_GE(steel, 0.6 * kProfiles);  // a third of a stretch settles it
  EXPECT_LE(shadow, 0.02 * kProfiles);
}

// What the blur and a JPEG's coarse chroma carry out from a plain edge is no strip of steel.
TEST(EdgeProfile, TakesAnEdgesOwnFringeForNoStrip) {
  int strips = 0;
  for (unsigned seed = 0; seed < 100; ++seed) {
    const EdgeProfile fringed = profile_of({{26, -0.7, 0.15, 2 * kBlur}, {28, 0, 1.0, kBlur}}, kNoise, seed);
    strips += strip_is_steel(fringed, find_edge(fringed, 28, kReach, kBlur, 10), kBlur) ? 1 : 0;
  }
  EXPECT_LE(strips, 1);
}

TEST(EdgeProfile, DoesNotTakeAPenumbraForAnEdge) {
  int taken = 0;
  for (unsigned seed = 0; seed < 200; ++seed) {
    const EdgeSigns signs = find_edge(profile_of({{28, -0.5, 0, 5 * kBlur}}, 0.25 * kNoise, seed), 28, kReach, kBlur);
    taken += signs.rise || signs.drop ? 1 : 0;
  }
  EXPECT_LE(taken, 4);  // 2 %: grain may steepen it by chance
}

TEST(EdgeProfile, FindsBareSteelBehindAPenumbra) {
  const Scatter s = scatter({{20, -0.5, 0, 5 * kBlur}, {28, -0.3, 0.6, kBlur}}, 28, Sign::kRise, kNoise);
  report("steel behind penumbra", s);
  EXPECT_GE(s.seen, 99);
  EXPECT_LT(std::abs(s.bias), 0.25);
  EXPECT_LT(s.usual_sd, 0.25);
  EXPECT_LT(s.sd, kFarSd);
}

TEST(EdgeProfile, FindsNothingOnTheOpenField) {
  for (unsigned seed = 0; seed < 100; ++seed) {
    const EdgeSigns signs = find_edge(profile_of({}, kNoise, seed), 28, kReach, kBlur);
    EXPECT_FALSE(signs.rise) << seed;
    EXPECT_FALSE(signs.drop) << seed;
  }
}

TEST(EdgeProfile, FindsNothingWhereTooLittleLiesBeforeTheEdge) {
  const EdgeSigns signs = find_edge(profile_of({{9, -0.5, 1, kBlur}}), 9, kReach, kBlur);
  EXPECT_FALSE(signs.rise);
  EXPECT_FALSE(signs.drop);
}

TEST(EdgeProfile, FindsNothingInTheDark) {
  EdgeProfile dark;
  dark.along.assign(kCount, 0);
  dark.across.assign(kCount, 0);
  const EdgeSigns signs = find_edge(dark, 28, kReach, kBlur);
  EXPECT_FALSE(signs.rise);
  EXPECT_FALSE(signs.drop);
}

}  // namespace
}  // namespace glintline
