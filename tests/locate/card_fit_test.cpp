#include "locate/card_fit.h"

#include <gtest/gtest.h>

#include <random>

#include "support/board_render.h"

namespace glintline {
namespace {

using testing::BoardScene;

BoardScene scene_at(double tilt_rad, double distance_mm = 105, double focal_px = 3000) {
  BoardScene scene;
  scene.size = cv::Size(4000, 3000);
  scene.view.camera = testing::plain_camera(focal_px, scene.size);
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, distance_mm, tilt_rad, 0.9, 0.3);
  return scene;
}

std::vector<Sighting> sightings(const BoardScene& scene, double noise_px, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::normal_distribution<double> noise(0, noise_px);
  std::vector<Sighting> seen;
  for (const CardSaddle& saddle : scene.layout.saddles()) {
    const Point2 px = testing::true_pixel(scene, saddle.at_mm);
    seen.push_back({saddle.at_mm, px + Point2(noise(random), noise(random)), 0.02});
  }
  return seen;
}

CameraPrior prior_of(const BoardScene& scene, double u_log_focal = 0.03) {
  CameraPrior prior;
  prior.camera = scene.view.camera;
  prior.u_log_focal = u_log_focal;
  prior.u_centre_px = 40;
  prior.u_k1 = 0.07;
  prior.u_k2 = 0.1;
  return prior;
}

Pose somewhere_near(const Pose& pose) {
  Pose start = pose;
  start.rotation = Eigen::AngleAxisd(0.03, Point3(1, 1, 0).normalized()).toRotationMatrix() * pose.rotation;
  start.translation += Point3(2, -1, 4);
  return start;
}

TEST(CardFit, FindsThePoseExactlyFromExactSightings) {
  const BoardScene scene = scene_at(0.15);
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const CardFit fit = fitter.fit(sightings(scene, 0, 1), somewhere_near(scene.view.camera_from_board));
  EXPECT_LT(fit.rms_px, 1e-4);  // the solver's tolerance
  EXPECT_LT((fit.view.camera_from_board.translation - scene.view.camera_from_board.translation).norm(), 1e-3);
}

TEST(CardFit, GivesTheBowToTheBow) {
  BoardScene scene = scene_at(0.12);
  scene.bow_x_mm = 0.3;
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const CardFit fit = fitter.fit(sightings(scene, 0.1, 2), somewhere_near(scene.view.camera_from_board));
  EXPECT_NEAR(fit.bow_x_mm, 0.3, 2 * std::sqrt(fit.covariance(kBowX, kBowX)));
  EXPECT_NEAR(fit.bow_x_mm, 0.3, 0.1);
  EXPECT_LT(fit.rms_px, 0.13);
}

TEST(CardFit, TellsAStretchedPrintFromATilt) {
  BoardScene scene = scene_at(0.05);
  scene.print_x = 1.006;
  scene.print_y = 0.996;
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const CardFit fit = fitter.fit(sightings(scene, 0.1, 3), somewhere_near(scene.view.camera_from_board));
  EXPECT_NEAR(fit.print.x / fit.print.y, scene.print_x / scene.print_y, 0.001);
  EXPECT_LT(fit.rms_px, 0.13);
}

TEST(CardFit, ThrowsOutStrays) {
  const BoardScene scene = scene_at(0.1);
  std::vector<Sighting> seen = sightings(scene, 0.05, 4);
  for (std::size_t i = 0; i < seen.size(); i += 6) seen[i].px += Point2(2.5, -1.5);
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const CardFit fit = fitter.fit(seen, somewhere_near(scene.view.camera_from_board));
  for (std::size_t i = 0; i < seen.size(); ++i) {
    if (i % 6 == 0) {
      EXPECT_EQ(fit.weights[i], 0);
    } else {
      EXPECT_GT(fit.weights[i], 0);
    }
  }
  EXPECT_LT(fit.rms_px, 0.06);
}

// Near head-on and from afar both mirror poses explain the markers alike; from close up the perspective tells them
// apart.
TEST(CardFit, OffersBothMirrorPoses) {
  const BoardScene scene = scene_at(0.02, 2000, 40000);
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const std::vector<Pose> poses = fitter.mirror_poses(sightings(scene, 0.05, 5));
  ASSERT_EQ(poses.size(), 2U);
  const Point3 normal_a = poses[0].rotation.col(2);
  const Point3 normal_b = poses[1].rotation.col(2);
  EXPECT_NEAR(normal_a.z(), normal_b.z(), 1e-3);
  EXPECT_LT(normal_a.head<2>().dot(normal_b.head<2>()), 0);
}

// Residuals that neighbours share are worth fewer points than there are saddles.
TEST(CardFit, WidensWhereNeighboursMissInCommon) {
  const BoardScene scene = scene_at(0.1);
  std::vector<Sighting> independent = sightings(scene, 0.2, 6);
  std::vector<Sighting> wavy = sightings(scene, 0.05, 6);
  for (Sighting& s : wavy) {
    s.px += 0.25 * Point2(std::sin(s.board_mm.x() / 4 + s.board_mm.y() / 9), std::cos(s.board_mm.y() / 4));
  }
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const Pose start = somewhere_near(scene.view.camera_from_board);
  const CardFit plain = fitter.fit(independent, start);
  const CardFit structured = fitter.fit(wavy, start);
  EXPECT_LT(plain.structure, 1.7);
  EXPECT_GT(structured.structure, 2);
}

// JCGM 102: a covariance factor's columns reproduce the covariance; here through the views.
TEST(CardFit, VariationsAddUpToThePosterior) {
  const BoardScene scene = scene_at(0.1);
  const CardFitter fitter(scene.layout, prior_of(scene), {});
  const CardFit fit = fitter.fit(sightings(scene, 0.1, 7), somewhere_near(scene.view.camera_from_board));
  const std::vector<ViewVariation> variations = fitter.variations(fit);
  double z2 = 0;
  double focal2 = 0;
  bool print = false;
  for (const ViewVariation& v : variations) {
    const double dz = v.view.camera_from_board.translation.z() - fit.view.camera_from_board.translation.z();
    const double df = std::log(v.view.camera.fx / fit.view.camera.fx);
    z2 += dz * dz;
    focal2 += df * df;
    print = print || v.source == Source::kPrint;
  }
  EXPECT_NEAR(std::sqrt(z2), std::sqrt(fit.covariance(kMoveZ, kMoveZ)), 0.02 * std::sqrt(z2));
  EXPECT_NEAR(std::sqrt(focal2), std::sqrt(fit.covariance(kLogFocal, kLogFocal)), 0.02 * std::sqrt(focal2));
  EXPECT_TRUE(print);
}

}  // namespace
}  // namespace glintline
