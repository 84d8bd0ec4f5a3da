#include "measure/rivet_row.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "math/statistics.h"
#include "measure/known_cutter.h"

namespace glintline {
namespace {

using testing::KnownScene;

constexpr double kHeightMm = 5.2;
constexpr double kPitchMm = 9.3;
constexpr int kRows = 200;

/// Rows of six rivets whose links tilt by a normal angle, each head's outline off by as much as heads differ.
struct Rows {
  std::vector<double> own;   ///< errors of the cutter's rivet line by its own two heads, rad
  std::vector<double> told;  ///< by the whole row
  std::vector<double> u;     ///< uncertainty stated

  explicit Rows(double tilt_rad) {
    std::mt19937 random(5);
    std::normal_distribution<double> normal(0, 1);
    for (int k = 0; k < kRows; ++k) add(tilt_rad, [&] { return normal(random); });
  }

  template <typename Normal>
  void add(double tilt_rad, const Normal& normal) {
    const KnownScene scene;
    const CameraView view = scene.view();
    ProfileOutlines outlines;
    std::vector<double> z{0};
    for (int i = 1; i < 6; ++i) z.push_back(i % 2 ? z.back() + kPitchMm * tilt_rad * normal() : z.back());
    for (int i = 0; i < 6; ++i) {
      RivetOutline head;
      head.centre_px = scene.pixel(view, kPitchMm * i, z[i] + kHeadMm * normal(), kHeightMm);
      outlines.rivets.push_back(head);
    }
    CutterOutline cutter;
    cutter.rear_rivet = outlines.rivets[2];
    cutter.front_rivet = outlines.rivets[3];
    outlines.cutters.push_back(cutter);
    const double truth = std::atan2(z[3] - z[2], kPitchMm);
    own.push_back(tilt(scene, view, cutter) - truth);
    const CutterOutline on_row = cutters_on_row(outlines, view, kHeightMm)[0];
    told.push_back(tilt(scene, view, on_row) - truth);
    const double px_mm = view.mm_per_px(on_row.rear_rivet.centre_px, kHeightMm);
    u.push_back(std::hypot(on_row.rear_rivet.u_px, on_row.front_rivet.u_px) * px_mm / kPitchMm);
  }

  static double tilt(const KnownScene& scene, const CameraView& view, const CutterOutline& c) {
    const Point2 d = view.at_height(c.front_rivet.centre_px, kHeightMm) - view.at_height(c.rear_rivet.centre_px, kHeightMm);
    return std::atan2(d.dot(scene.up()), d.dot(scene.along()));
  }

  [[nodiscard]] double inside() const {
    int in = 0;
    for (int k = 0; k < kRows; ++k) in += std::abs(told[k]) <= 2 * u[k] ? 1 : 0;
    return static_cast<double>(in) / kRows;
  }
};

constexpr double kDegree = std::numbers::pi / 180;

TEST(RivetRow, TellsATautChainsLineByAllItsRivets) {
  const Rows taut(0);
  EXPECT_LT(standard_deviation(taut.told), 0.6 * standard_deviation(taut.own));
  // 95 % less three standard deviations of a share of 200.
  EXPECT_GE(taut.inside(), 0.9);
  EXPECT_LT(median(taut.u), 0.8 * std::sqrt(2.0) * kHeadMm / kPitchMm);
}

TEST(RivetRow, BelievesTheOwnRivetsOfASlackChain) {
  const Rows slack(0.8 * kDegree);
  EXPECT_LT(standard_deviation(slack.told), 1.2 * standard_deviation(slack.own));
  EXPECT_GE(slack.inside(), 0.9);
}

TEST(RivetRow, LeavesTwoRivetsWhereTheyAre) {
  const KnownScene scene;
  ProfileOutlines outlines;
  outlines.cutters.emplace_back();
  for (int i = 0; i < 2; ++i) {
    RivetOutline head;
    head.centre_px = scene.pixel(scene.view(), kPitchMm * i, 0.05 * i, kHeightMm);
    outlines.rivets.push_back(head);
  }
  outlines.cutters[0].rear_rivet = outlines.rivets[0];
  outlines.cutters[0].front_rivet = outlines.rivets[1];
  const CutterOutline c = cutters_on_row(outlines, scene.view(), kHeightMm)[0];
  EXPECT_NEAR((c.front_rivet.centre_px - outlines.rivets[1].centre_px).norm(), 0, 1e-3);
  const double px_mm = scene.view().mm_per_px(c.front_rivet.centre_px, kHeightMm);
  EXPECT_NEAR(c.front_rivet.u_px * px_mm, kHeadMm, 0.002);
}

}  // namespace
}  // namespace glintline
