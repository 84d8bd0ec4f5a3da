#include "math/random_effects.h"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <vector>

namespace glintline {
namespace {

// Thirteen trials of a vaccine against tuberculosis, two by two tables as printed by Colditz et al., JAMA 271 (1994),
// and by Viechtbauer, Conducting meta-analyses in R with the metafor package, J. Stat. Softw. 36(3) (2010); effects are
// logarithms of risk ratios. DerSimonian and Laird's estimate there: -0.7141, standard error 0.1787, tau² 0.3088,
// Q 152.2330 (tables and results from memory; they could not agree to four places by chance).
TEST(RandomEffects, AgreesWithAPublishedMetaAnalysis) {
  const std::array<std::array<double, 4>, 13> trials{{{4, 119, 11, 128},
                                                      {6, 300, 29, 274},
                                                      {3, 228, 11, 209},
                                                      {62, 13536, 248, 12619},
                                                      {33, 5036, 47, 5761},
                                                      {180, 1361, 372, 1079},
                                                      {8, 2537, 10, 619},
                                                      {505, 87886, 499, 87892},
                                                      {29, 7470, 45, 7232},
                                                      {17, 1699, 65, 1600},
                                                      {186, 50448, 141, 27197},
                                                      {5, 2493, 3, 2338},
                                                      {27, 16886, 29, 17825}}};
  std::vector<double> effects, u;
  for (const auto& [ill, well, ill0, well0] : trials) {
    effects.push_back(std::log(ill / (ill + well) / (ill0 / (ill0 + well0))));
    u.push_back(std::sqrt(1 / ill - 1 / (ill + well) + 1 / ill0 - 1 / (ill0 + well0)));
  }
  const RandomEffects r = random_effects(effects, u);
  constexpr double kPrinted = 5e-5;  // four places
  EXPECT_NEAR(r.q, 152.2330, kPrinted);
  EXPECT_NEAR(r.between * r.between, 0.3088, kPrinted);
  EXPECT_NEAR(r.mean, -0.7141, kPrinted);
  EXPECT_NEAR(r.u_mean, 0.1787, kPrinted);
}

TEST(RandomEffects, IsTheWeightedMeanWhereNothingDiffers) {
  const std::vector<double> values{2.0, 2.1, 1.9}, u{0.2, 0.1, 0.4};
  const RandomEffects r = random_effects(values, u);
  EXPECT_EQ(r.between, 0);
  EXPECT_NEAR(r.mean, (2.0 * 25 + 2.1 * 100 + 1.9 * 6.25) / 131.25, 1e-12);
  EXPECT_NEAR(r.u_mean, 1 / std::sqrt(131.25), 1e-12);
  const RandomEffects one = random_effects(std::vector<double>{3.0}, std::vector<double>{0.5});
  EXPECT_EQ(one.mean, 3.0);
  EXPECT_EQ(one.u_mean, 0.5);
}

}  // namespace
}  // namespace glintline
