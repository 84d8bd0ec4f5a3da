#include "locate/locate_card.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "locate/camera_prior.h"
#include "locate/find_saddles.h"
#include "support/board_render.h"

namespace glintline {
namespace {

using testing::BoardPatch;
using testing::BoardScene;

constexpr double kDegree = M_PI / 180;

BoardScene wide_scene(double tilt_deg = 4, double roll_deg = 8) {
  BoardScene scene;
  scene.size = cv::Size(2000, 1500);
  scene.view.camera = testing::plain_camera(1500, scene.size);
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 95, tilt_deg * kDegree, 0.8, roll_deg * kDegree);
  scene.noise_8bit = 2;
  return scene;
}

/// Largest distance (mm) between where a sight line really meets the plane at `height_mm` and where `view` says,
/// relative to the field's middle: what a length in the field can be off by.
double worst_length_error(const BoardScene& scene, const CameraView& view, double height_mm) {
  const Point2 middle(scene.layout.width_mm() / 2, scene.layout.height_mm() / 2);
  const Point2 reach = 0.2 * middle;
  const auto seen = [&](const Point2& at) {
    return view.at_height(scene.view.pixel(Point3(at.x(), at.y(), -height_mm)), height_mm);
  };
  const Point2 origin = seen(middle);
  double worst = 0;
  for (const Point2& off :
       {Point2(reach.x(), 0), Point2(0, reach.y()), Point2(-reach.x(), reach.y()), Point2(-reach)}) {
    worst = std::max(worst, std::abs((seen(middle + off) - origin).norm() - off.norm()));
  }
  return worst;
}

double standard_uncertainty(const CardPose& pose, const BoardScene& scene, double height_mm) {
  const Point2 a = scene.view.pixel(Point3(0.4 * scene.layout.width_mm(), 0.5 * scene.layout.height_mm(), -height_mm));
  const Point2 b = scene.view.pixel(Point3(0.6 * scene.layout.width_mm(), 0.5 * scene.layout.height_mm(), -height_mm));
  const auto length = [&](const CameraView& v) {
    return (v.at_height(b, height_mm) - v.at_height(a, height_mm)).norm();
  };
  double sum = 0;
  for (const ViewVariation& v : pose.variations) sum += std::pow(length(v.view) - length(pose.view), 2);
  return std::sqrt(sum);
}

Setup with_true_camera(const BoardScene& scene) {
  glintline::Setup setup;
  setup.camera = scene.view.camera;
  setup.camera->u_focal_rel = 0.002;
  setup.camera->u_centre_px = 2;
  setup.camera_width = scene.size.width;
  setup.camera_height = scene.size.height;
  setup.print.u_rel = 0.0003;
  setup.print.measured = true;
  return setup;
}

TEST(LocateCard, FindsScaleAndTiltWithAKnownCameraAndAMeasuredPrint) {
  const BoardScene scene = wide_scene();
  const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_EQ(pose->kind, CardKind::kWide);
  EXPECT_GE(pose->saddles, 135);
  EXPECT_LT(pose->rms_px, 0.12);
  EXPECT_NEAR(pose->tilt_rad, 4 * kDegree, 0.15 * kDegree);
  EXPECT_LT(worst_length_error(scene, pose->view, 0), 0.01);
  EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.01);
  EXPECT_EQ(pose->view.camera.source, FocalSource::kCameraFile);
}

TEST(LocateCard, WorksAtAnyTurn) {
  for (int roll_deg = 0; roll_deg < 360; roll_deg += 40) {
    const BoardScene scene = wide_scene(6, roll_deg);
    const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
    ASSERT_TRUE(pose) << roll_deg << ": " << pose.error().what;
    EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.015) << roll_deg;
  }
}

TEST(LocateCard, WorksUpTo20DegreesOfTiltAndRefusesBeyond) {
  for (const double tilt_deg : {0.0, 10.0, 19.0}) {
    const BoardScene scene = wide_scene(tilt_deg);
    const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
    ASSERT_TRUE(pose) << tilt_deg << ": " << pose.error().what;
    EXPECT_NEAR(pose->tilt_rad, tilt_deg * kDegree, 0.2 * kDegree);
    EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.015) << tilt_deg;
  }
  const auto refused = locate_card(testing::photographed(wide_scene(24)), glintline::Setup{});
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().fault, Fault::kTilted);
  EXPECT_NE(refused.error().what.find("24 degrees"), std::string::npos) << refused.error().what;
}

// 8 um a pixel: the close card fills a large picture; 60: the wide card lies small in a 12-megapixel one.
TEST(LocateCard, WorksFrom8To60MicrometresAPixel) {
  BoardScene close;
  close.layout = CardLayout(CardKind::kClose);
  close.size = cv::Size(5600, 4200);
  close.view.camera = testing::plain_camera(8000, close.size);
  close.view.camera_from_board = testing::camera_over({21, 15}, 64, 3 * kDegree, 2, 0.05);
  close.blur_px = 2;
  close.noise_8bit = 2;
  const auto fine = locate_card(testing::photographed(close), with_true_camera(close));
  ASSERT_TRUE(fine) << fine.error().what;
  EXPECT_EQ(fine->kind, CardKind::kClose);
  EXPECT_GE(fine->saddles, 130);
  EXPECT_LT(worst_length_error(close, fine->view, 5.5), 0.01);

  BoardScene far = wide_scene();
  far.size = cv::Size(4000, 3000);
  far.view.camera = testing::plain_camera(3000, far.size);
  far.view.camera_from_board = testing::camera_over({45, 30}, 180, 5 * kDegree, 1, 0.7);
  const auto coarse = locate_card(testing::photographed(far), with_true_camera(far));
  ASSERT_TRUE(coarse) << coarse.error().what;
  EXPECT_GE(coarse->saddles, 130);
  EXPECT_LT(worst_length_error(far, coarse->view, 5.5), 0.02);
}

TEST(LocateCard, WorksWithHalfTheRingHidden) {
  const std::vector<BoardPatch> halves{{{-6, -6}, {52.5, 81}, 0.3},
                                       {{52.5, -6}, {111, 81}, 0.3},
                                       {{-6, -6}, {111, 37.5}, 0.3},
                                       {{-6, 37.5}, {111, 81}, 0.3}};
  for (const BoardPatch& half : halves) {
    BoardScene scene = wide_scene(7);
    scene.covers.push_back(half);
    const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
    ASSERT_TRUE(pose) << pose.error().what;
    EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 3 * standard_uncertainty(*pose, scene, 5.5) + 0.01);
    EXPECT_LT(standard_uncertainty(*pose, scene, 5.5), 0.06);
  }
}

TEST(LocateCard, WorksThroughAChainShadowsAndSawdust) {
  BoardScene scene = wide_scene(5);
  scene.covers.push_back({{-6, 30}, {111, 46}, 0.25});
  for (int i = 0; i < 60; ++i) {
    const Point2 at(std::fmod(i * 17.3, 105), std::fmod(i * 11.9, 75));
    scene.covers.push_back({at, at + Point2(1.6, 0.6), 0.4});
  }
  scene.shadows.push_back({{20, -6}, {60, 81}, 0.45});
  scene.light_gradient = 0.5;
  scene.field = {0.05, 0.35, 0.05};
  scene.sharpen = 0.6;
  const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_GE(pose->saddles, 70);
  EXPECT_LT(pose->rms_px, 0.3);
  EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.02);
}

// The same stored picture and camera file, told to be shown in each of EXIF's orientations.
TEST(LocateCard, AppliesTheCameraFileInEveryOrientation) {
  BoardScene scene = wide_scene(8);
  scene.view.camera.cx += 25;
  scene.view.camera.cy -= 18;
  scene.view.camera.distortion = {0.04, -0.03, 0.002, -0.003, 0};
  const glintline::Setup setup = with_true_camera(scene);
  const cv::Mat stored = testing::render_board(scene);
  double tilt = -1;
  for (const int orientation : {1, 3, 6, 8}) {
    Photo photo;
    photo.exif.orientation = orientation;
    if (orientation == 3)
      cv::rotate(stored, photo.bgr, cv::ROTATE_180);
    else if (orientation == 6)
      cv::rotate(stored, photo.bgr, cv::ROTATE_90_CLOCKWISE);
    else if (orientation == 8)
      cv::rotate(stored, photo.bgr, cv::ROTATE_90_COUNTERCLOCKWISE);
    else
      photo.bgr = stored;
    const auto pose = locate_card(photo, setup);
    ASSERT_TRUE(pose) << orientation << ": " << pose.error().what;
    EXPECT_LT(pose->rms_px, 0.12) << orientation;
    EXPECT_GE(pose->saddles, 130) << orientation;
    EXPECT_NEAR(pose->view.eye().z(), scene.view.eye().z(), 0.3) << orientation;
    if (tilt < 0) tilt = pose->tilt_rad;
    EXPECT_NEAR(pose->tilt_rad, tilt, 0.02 * kDegree) << orientation;
  }
}

TEST(LocateCard, ModelsABowedCardAndSaysSo) {
  BoardScene scene = wide_scene(6);
  scene.bow_x_mm = 0.3;
  const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_NEAR(pose->bow_mm, 0.3, 0.03);
  ASSERT_FALSE(pose->warnings.empty());
  EXPECT_NE(pose->warnings[0].find("bowed by 0.3"), std::string::npos) << pose->warnings[0];
  EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.02);
}

// A print 0.7 % too long along X and 0.4 % too short along Y, read off its check bars.
TEST(LocateCard, TakesTheMeasuredPrintForTrueMillimetres) {
  BoardScene scene = wide_scene(3);
  scene.print_x = 1.007;
  scene.print_y = 0.996;
  glintline::Setup setup = with_true_camera(scene);
  setup.print = {1.007, 0.996, 0.0003, true};
  const auto pose = locate_card(testing::photographed(scene), setup);
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_LT(worst_length_error(scene, pose->view, 0), 0.01);
  EXPECT_LT(worst_length_error(scene, pose->view, 5.5), 0.01);
}

TEST(LocateCard, NoticesAPrintThatIsStretchedUnlike) {
  BoardScene scene = wide_scene(3);
  scene.print_x = 1.006;
  scene.print_y = 0.999;
  const auto pose = locate_card(testing::photographed(scene, 26), glintline::Setup{});
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_NEAR(pose->print.x / pose->print.y, 1.006 / 0.999, 0.001);
  ASSERT_FALSE(pose->warnings.empty());
  EXPECT_NE(pose->warnings[0].find("0.7 % longer along its width"), std::string::npos) << pose->warnings[0];
}

TEST(LocateCard, ReadsNumberTagsBesideTheCutters) {
  BoardScene scene = wide_scene(5, 20);
  scene.tags = {{7, {40, 30}}, {112, {65, 42}}};
  const auto pose = locate_card(testing::photographed(scene, 26), glintline::Setup{});
  ASSERT_TRUE(pose) << pose.error().what;
  ASSERT_EQ(pose->tags.size(), 2U);
  for (const NumberTag& tag : pose->tags) {
    const Point2 centre_mm = tag.number == 7 ? Point2(40, 30) : Point2(65, 42);
    const Point2 centre = (tag.corners_px[0] + tag.corners_px[1] + tag.corners_px[2] + tag.corners_px[3]) / 4;
    EXPECT_TRUE(tag.number == 7 || tag.number == 112);
    EXPECT_LT((centre - testing::true_pixel(scene, centre_mm)).norm(), 2);
    // The tag's own top left comes first, to the left of and above its centre before the picture was turned.
    const Point2 first = testing::true_pixel(scene, centre_mm + Point2(-3, -3));
    EXPECT_LT((tag.corners_px[0] - first).norm(), 4);
  }
}

TEST(LocateCard, KnowsACardOfAnotherSquareSize) {
  BoardScene scene = wide_scene(5);
  scene.layout = CardLayout::sized(CardKind::kWide, 4).value();
  scene.view.camera_from_board = testing::camera_over({42, 30}, 80, 0.07, 0.8, 0.1);
  glintline::Setup setup = with_true_camera(scene);
  setup.card_square_mm = 4;
  const auto pose = locate_card(testing::photographed(scene), setup);
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_DOUBLE_EQ(pose->square_mm, 4);
  EXPECT_LT(worst_length_error(scene, pose->view, 0), 0.01);
}

// Sight lines that are as good as parallel: the mirror image of a tilt looks the same.
TEST(LocateCard, SaysWhenTheTiltCannotBeToldFromItsMirrorImage) {
  BoardScene scene = wide_scene();
  scene.view.camera = testing::plain_camera(8e7, scene.size);
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 5e6, 9 * kDegree, 0.8, 0.1);
  scene.noise_8bit = 4;
  const auto pose = locate_card(testing::photographed(scene), with_true_camera(scene));
  ASSERT_TRUE(pose) << pose.error().what;
  ASSERT_FALSE(pose->warnings.empty());
  EXPECT_NE(pose->warnings.back().find("mirror"), std::string::npos);
  // The other pose lies within reach of the variations: the eye moves by 5 km times sin 18 degrees, or half of it.
  double sum = 0;
  for (const ViewVariation& v : pose->variations) sum += (v.view.eye() - pose->view.eye()).squaredNorm();
  EXPECT_GT(std::sqrt(sum), 5e5);
}

TEST(LocateCard, TakesTheFocalLengthFromThePictureWhereNothingElseTells) {
  BoardScene scene = wide_scene(17);
  glintline::Setup setup;
  setup.print = {1, 1, 0.0003, true};
  const auto pose = locate_card(testing::photographed(scene), setup);
  ASSERT_TRUE(pose) << pose.error().what;
  EXPECT_EQ(pose->view.camera.source, FocalSource::kPicture);
  EXPECT_LT(std::abs(std::log(pose->view.camera.fx / 1500)), 3 * pose->view.camera.u_focal_rel);
  EXPECT_LT(pose->view.camera.u_focal_rel, 0.1);
}

TEST(LocateCard, RefusesAPictureWithoutACard) {
  BoardScene scene = wide_scene();
  scene.covers.push_back({{-1000, -1000}, {1000, 1000}, 0.4});
  const auto pose = locate_card(testing::photographed(scene), glintline::Setup{});
  ASSERT_FALSE(pose);
  EXPECT_EQ(pose.error().fault, Fault::kNoCard);
}

TEST(LocateCard, RefusesAnAlmostHiddenCardAndSaysHowMuchIsSeen) {
  BoardScene scene = wide_scene();
  scene.covers.push_back({{-6, 10}, {111, 81}, 0.3});
  scene.covers.push_back({{32, -6}, {111, 81}, 0.3});
  const auto pose = locate_card(testing::photographed(scene), glintline::Setup{});
  ASSERT_FALSE(pose);
  EXPECT_EQ(pose.error().fault, Fault::kCardHidden);
  EXPECT_NE(pose.error().what.find("squares of the card seen, 12 needed"), std::string::npos) << pose.error().what;
}

TEST(LocateCard, RefusesAMereStripOfTheCard) {
  BoardScene scene = wide_scene();
  scene.covers.push_back({{-6, 15}, {111, 81}, 0.3});
  const auto pose = locate_card(testing::photographed(scene), glintline::Setup{});
  ASSERT_FALSE(pose);
  EXPECT_EQ(pose.error().fault, Fault::kCardHidden) << pose.error().what;
}

TEST(LocateCard, RefusesAPictureFarOutOfFocus) {
  BoardScene scene = wide_scene();
  scene.blur_px = 12;
  EXPECT_FALSE(locate_card(testing::photographed(scene), glintline::Setup{}));
}

// A white board with our family's markers, but strewn about.
TEST(LocateCard, RefusesMarkersThatDoNotStandAsOnTheCard) {
  BoardScene scene = wide_scene();
  scene.covers.push_back({{-6, -6}, {111, 81}, 0.8});
  Photo photo = testing::photographed(scene);
  const CardLayout layout(CardKind::kWide);
  int place = 0;
  for (const CardMarker& marker : layout.markers()) {
    if (place >= 30) break;
    const MarkerModules modules = marker_modules(marker.id);
    const int x0 = 150 + (place * 7 % 10) * 170 + (place % 3) * 11;
    const int y0 = 150 + (place * 3 % 7) * 170;
    for (int v = 0; v < 80; ++v) {
      for (int u = 0; u < 80; ++u) {
        photo.bgr.at<cv::Vec3b>(y0 + v, x0 + u) =
            modules[v / 10][u / 10] ? cv::Vec3b(235, 235, 235) : cv::Vec3b(20, 20, 20);
      }
    }
    ++place;
  }
  const auto pose = locate_card(photo, glintline::Setup{});
  ASSERT_FALSE(pose);
  EXPECT_EQ(pose.error().fault, Fault::kWrongCard) << pose.error().what;
}

}  // namespace
}  // namespace glintline
