#include <gtest/gtest.h>

#include <cmath>

#include "trace/plan_posterior.h"
#include "trace/plan_strip_model.h"

namespace glintline {
namespace {

constexpr double kDegree = M_PI / 180;
constexpr double kExact = 1e-9;

StripModel usual_model() {
  StripModel model;
  model.lean_rad = 8 * kDegree;
  model.start_rad = -4 * kDegree;
  model.horizon_rad = 42 * kDegree;
  return model;
}

TEST(PlanStripModel, ZonesShareEverySampleAmongThem) {
  const StripWindow window{30, 7, 75};
  for (const LightShape shape : {LightShape::kSteady, LightShape::kEven}) {
    const auto a = strip_design(window, 6, usual_model(), {1.0, 0.3}, {}, shape);
    for (int i = 0; i < window.samples; ++i) EXPECT_NEAR(a.row(i).head(kStripLevels).sum(), 1, kExact);
  }
}

// Where the flat ends a steady light is still the flat's own, an even one is there at once.
TEST(PlanStripModel, ASteadyLightBeginsAsTheFlat) {
  const StripWindow window{30, 7, 75};
  const StripModel model = usual_model();
  const double radius = 20;
  const double begins = -radius * (1 - std::sin(model.start_rad));
  const int row = static_cast<int>(std::lround((begins + 0.5 + window.behind_px) / StripWindow::kStepPx));
  const StepResponse sharp{0.3, 0};
  EXPECT_GT(strip_design(window, radius, model, sharp, {}, LightShape::kSteady)(row, kFlat), 0.3);
  EXPECT_LT(strip_design(window, radius, model, sharp, {}, LightShape::kEven)(row, kFlat), 0.15);
}

TEST(PlanStripModel, TellsWhereALampsImageEnds) {
  const StripModel model = usual_model();
  EXPECT_FALSE(lit_band({0.3, 0.6, 0.8, 0.9, 1, 0.95}, model));
  const auto band = lit_band({0.5, 1, 0.5, 0, 0, 0}, model);
  ASSERT_TRUE(band);
  // Nodes are 50 / 6 degrees apart, from the flat's -8 degrees on.
  EXPECT_NEAR(band->from_rad / kDegree, -8 + 50.0 / 6, 1e-6);
  EXPECT_NEAR(band->to_rad / kDegree, -8 + 3 * 50.0 / 6, 1e-6);
}

TEST(PlanStripModel, SharesItsLightByTheBrightestNode) {
  Eigen::VectorXd x = Eigen::VectorXd::Zero(kStripColumns);
  x[kFlat] = 0.2;
  for (int k = 0; k < kLitNodes; ++k) x[kLit + k] = 0.2 + 0.1 * k;
  const auto shares = lit_shares(x);
  ASSERT_TRUE(shares);
  EXPECT_NEAR(shares->front(), 0, kExact);
  EXPECT_NEAR(shares->back(), 1, kExact);
  for (int k = 0; k < kLitNodes; ++k) x[kLit + k] = 0.1;
  EXPECT_FALSE(lit_shares(x));
}

TEST(PlanStripModel, StepTurnsHalfWayAtItsPlaceAndOvershootsOnlyWhenSharpened) {
  const StepResponse soft{1.2, 0};
  const StepResponse sharp{1.2, 0.5};
  EXPECT_NEAR(soft.at(3, 3), 0.5, kExact);
  EXPECT_NEAR(sharp.at(3, 3), 0.5, kExact);
  EXPECT_LT(soft.at(6, 3), 1);
  EXPECT_GT(sharp.at(5.5, 3), 1);
}

// Levels between flat and ground are a soft step, a brighter line is a strip, a dimmer ground is the slip's image.
TEST(PlanStripModel, OnlyWhatIsOfItsOwnStandsOut) {
  StripLevels levels;
  levels.flat_wave = levels.ground_wave = 0.01;
  Eigen::VectorXd x = Eigen::VectorXd::Zero(kStripColumns);
  x[kFlat] = 0.3;
  x[kGround] = 0.1;
  const auto lit = [&](double level) { x.segment<kLitNodes>(kLit).setConstant(level); };
  lit(0.2);
  EXPECT_LT(prominence(x, levels, false).any, 1);
  lit(0.05);
  EXPECT_LT(prominence(x, levels, false).any, 1);
  lit(0.9);
  EXPECT_GT(prominence(x, levels, false).bright, 2);
}

StripGrid small_grid() {
  StripGrid grid;
  for (double r = 1; r < 12; r *= 1.2) grid.radii.push_back(r);
  for (double o = -2; o <= 4; o += 0.5) grid.offsets.push_back(o);
  return grid;
}

/// Log likelihood of a station that knows radius and outline to the given spreads.
Eigen::MatrixXd known(const StripGrid& grid, double radius, double outline, double u_log, double u_px) {
  Eigen::MatrixXd log(grid.offsets.size(), grid.radii.size());
  for (std::size_t o = 0; o < grid.offsets.size(); ++o) {
    for (std::size_t r = 0; r < grid.radii.size(); ++r) {
      log(o, r) = -0.5 * std::pow(std::log(grid.radii[r] / radius) / u_log, 2) -
                  0.5 * std::pow((grid.offsets[o] - outline) / u_px, 2);
    }
  }
  return log;
}

TEST(PlanPosterior, InterpolationKeepsTheTablesOwnNodes) {
  const StripGrid grid = small_grid();
  const Eigen::MatrixXd coarse = known(grid, 4, 0.5, 0.4, 1.2).array().max(-19);
  const Eigen::MatrixXd fine = refined(coarse, grid, 0.6);
  ASSERT_EQ(fine.rows(), 2 * coarse.rows() - 1);
  for (int r = 0; r < coarse.rows(); ++r) {
    for (int c = 0; c < coarse.cols(); ++c) EXPECT_NEAR(fine(2 * r, 2 * c), coarse(r, c), 1e-6);
  }
}

// A blind station between two that know takes their answer, with more doubt; one alone knows nothing.
TEST(PlanPosterior, NeighboursLendTheirKnowledge) {
  const StripGrid grid = small_grid();
  std::vector<StationLikelihood> stations(7);
  for (auto& s : stations) s.log = known(grid, 5, 1, 0.1, 0.4);
  stations[3].log.setZero();
  const auto answers = joined(stations, grid, 1);
  EXPECT_NEAR(answers[3].radius, 5, 0.4);
  EXPECT_GT(answers[3].u_radius, answers[1].u_radius);
  std::vector<StationLikelihood> blind(3);
  for (auto& s : blind) s.log = Eigen::MatrixXd::Zero(grid.offsets.size(), grid.radii.size());
  const auto nothing = joined(blind, grid, 1);
  EXPECT_GT(nothing[1].u_radius / nothing[1].radius, 0.45);
}

}  // namespace
}  // namespace glintline
