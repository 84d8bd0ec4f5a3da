// The bundle adjustment against OpenCV's own projection and calibration, and against real chessboards. Points are made
// by cv::projectPoints, which shares nothing with the code under test.
#include "locate/lens_fit.h"

#include <gtest/gtest.h>

#include <filesystem>
#include <opencv2/calib3d.hpp>
#include <opencv2/core.hpp>
#include <opencv2/core/persistence.hpp>
#include <random>

#include "locate/lens_calibration.h"
#include "locate/saddle_fit.h"
#include "read/photo_file.h"
#include "support/board_render.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

constexpr double kDegree = M_PI / 180;
const cv::Size kPicture(4000, 3000);

/// A phone before a card of 105 x 75 mm with 21 x 15 squares.
struct TrueLens {
  double focal = 3016;
  double aspect = 1;
  Point2 centre{2010, 1492};
  std::vector<double> distortion{0.06, -0.08, 0.0004, -0.0006, 0.03};
  double unlike = 0;
  double bow_x_mm = 0;
  double bow_y_mm = 0;
  double noise_px = 0;

  [[nodiscard]] cv::Mat matrix() const {
    return (cv::Mat_<double>(3, 3) << focal, 0, centre.x(), 0, focal * aspect, centre.y(), 0, 0, 1);
  }
};

/// Where the camera stands: the card's middle seen from `distance_mm`, tilted about an axis in the card.
struct Stand {
  double tilt_deg;
  double towards_deg;
  double distance_mm = 110;
  Point2 shift_mm{0, 0};
};

const std::vector<Stand> kGoodStands{{2, 0},
                                     {20, 0, 115, {8, 4}},
                                     {22, 60, 110, {-9, 5}},
                                     {25, 130, 120, {9, -6}},
                                     {20, 190},
                                     {24, 250, 115, {-8, -6}},
                                     {18, 310},
                                     {12, 90, 105, {4, 3}}};

BoardSight sight_of(const TrueLens& lens, const Stand& stand, std::mt19937_64& random) {
  const Point2 middle(52.5, 37.5);
  std::vector<cv::Point3d> board;
  BoardSight sight;
  for (int row = 1; row < 15; ++row) {
    for (int column = 1; column < 21; ++column) {
      if (row > 3 && row < 12 && column > 4 && column < 17) continue;  // the field
      const Point2 nominal(5.0 * column, 5.0 * row);
      const double u = nominal.x() / middle.x() - 1;
      const double v = nominal.y() / middle.y() - 1;
      board.emplace_back(nominal.x() * (1 + lens.unlike / 2), nominal.y() * (1 - lens.unlike / 2),
                         -(lens.bow_x_mm * u * u + lens.bow_y_mm * v * v));
      sight.push_back({nominal, Point2::Zero(), 0.02});
    }
  }
  const double towards = stand.towards_deg * kDegree;
  const Eigen::AngleAxisd turn(stand.tilt_deg * kDegree, Point3(std::cos(towards), std::sin(towards), 0));
  const Point3 away =
      Point3(stand.shift_mm.x(), stand.shift_mm.y(), stand.distance_mm) - turn * Point3(middle.x(), middle.y(), 0);
  const Point3 axis = turn.angle() * turn.axis();
  std::vector<cv::Point2d> px;
  cv::projectPoints(board, cv::Vec3d(axis.x(), axis.y(), axis.z()), cv::Vec3d(away.x(), away.y(), away.z()),
                    lens.matrix(), lens.distortion, px);
  std::normal_distribution<double> noise(0, 1);
  for (std::size_t i = 0; i < px.size(); ++i) {
    sight[i].px = Point2(px[i].x, px[i].y) + lens.noise_px * Point2(noise(random), noise(random));
  }
  return sight;
}

std::vector<BoardSight> sights_of(const TrueLens& lens, const std::vector<Stand>& stands, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::vector<BoardSight> sights;
  for (const Stand& stand : stands) sights.push_back(sight_of(lens, stand, random));
  return sights;
}

const SheetPrior kCardSheet{Point2(105, 75), 0.005, 0.3};

TEST(LensFit, RecoversTheCameraThatMadeThePoints) {
  const TrueLens lens;
  const LensFit fit = fit_lens(sights_of(lens, kGoodStands, 1), kPicture, kCardSheet);
  // Exact points: what is left is the weight of the weak beliefs against misfits of kFloorPx.
  constexpr double kExact = 2e-4;
  EXPECT_NEAR(fit.camera.fx / lens.focal, 1, kExact);
  EXPECT_NEAR(fit.camera.fy / lens.focal, 1, kExact);
  EXPECT_NEAR(fit.camera.cx, lens.centre.x(), kExact * lens.focal);
  EXPECT_NEAR(fit.camera.cy, lens.centre.y(), kExact * lens.focal);
  EXPECT_NEAR(fit.camera.distortion[0], 0.06, 0.002);
  EXPECT_NEAR(fit.camera.distortion[2], 0.0004, 1e-4);
  EXPECT_NEAR(fit.camera.distortion[3], -0.0006, 1e-4);
}

TEST(LensFit, AgreesWithOpenCvOnTheSamePoints) {
  TrueLens lens;
  lens.noise_px = 0.3;
  const std::vector<BoardSight> sights = sights_of(lens, kGoodStands, 2);
  SheetPrior flat = kCardSheet;
  flat.u_unlike = 1e-6;
  flat.u_bow_mm = 1e-6;
  const LensFit fit = fit_lens(sights, kPicture, flat);

  std::vector<std::vector<cv::Point3f>> board;
  std::vector<std::vector<cv::Point2f>> seen;
  for (const BoardSight& sight : sights) {
    board.emplace_back();
    seen.emplace_back();
    for (const Sighting& s : sight) {
      board.back().emplace_back(s.board_mm.x(), s.board_mm.y(), 0);
      seen.back().emplace_back(s.px.x(), s.px.y());
    }
  }
  cv::Mat matrix, distortion, spread, unused;
  cv::calibrateCamera(board, seen, kPicture, matrix, distortion, unused, unused, spread, unused, unused);
  // Both are least squares on the same points; ours trusts far ones less and knows that pixels are square.
  const double within = 1.0;  // standard deviations
  EXPECT_NEAR(fit.camera.fx, matrix.at<double>(0, 0), within * spread.at<double>(0));
  EXPECT_NEAR(fit.camera.cx, matrix.at<double>(0, 2), within * spread.at<double>(2));
  EXPECT_NEAR(fit.camera.cy, matrix.at<double>(1, 2), within * spread.at<double>(3));
  EXPECT_NEAR(std::sqrt(fit.covariance(kLensCx, kLensCx)) / fit.scatter, spread.at<double>(2),
              0.3 * spread.at<double>(2));
}

/// Noise, and what no photograph averages away: an unlike print and a bowed sheet, drawn as they are believed.
TEST(LensFit, CoversTheTruthWithTwoStandardUncertainties) {
  constexpr int kSeeds = 40;
  int inside = 0, asked = 0;
  for (int seed = 0; seed < kSeeds; ++seed) {
    std::mt19937_64 random(4000 + seed);
    std::normal_distribution<double> normal(0, 1);
    TrueLens lens;
    lens.noise_px = 0.25;
    lens.unlike = 0.005 * normal(random);
    lens.bow_x_mm = 0.15 * normal(random);
    lens.bow_y_mm = 0.10 * normal(random);
    const LensFit fit = fit_lens(sights_of(lens, kGoodStands, 5000 + seed), kPicture, kCardSheet);
    const auto within = [&](LensParameter k, double value, double truth) {
      ++asked;
      if (std::abs(value - truth) <= 2 * std::sqrt(fit.covariance(k, k))) ++inside;
    };
    within(kLensFx, fit.camera.fx, lens.focal);
    within(kLensCx, fit.camera.cx, lens.centre.x());
    within(kLensCy, fit.camera.cy, lens.centre.y());
    within(kLensK1, fit.camera.distortion[0], 0.06);
  }
  const double coverage = static_cast<double>(inside) / asked;
  std::printf("lens: coverage of 2 u over %d values %.1f %%\n", asked, 100 * coverage);
  EXPECT_GE(coverage, 0.90);
  EXPECT_LE(coverage, 0.995);
}

std::vector<LensSight> named(const std::vector<BoardSight>& sights) {
  std::vector<LensSight> result;
  for (std::size_t i = 0; i < sights.size(); ++i) result.push_back({"photo-" + std::to_string(i + 1), sights[i]});
  return result;
}

TEST(LensCalibration, LeavesOutThePhotographThatWasZoomed) {
  TrueLens lens;
  lens.noise_px = 0.2;
  std::vector<BoardSight> sights = sights_of(lens, kGoodStands, 6);
  TrueLens zoomed = lens;
  zoomed.focal *= 1.05;
  std::mt19937_64 random(7);
  sights[4] = sight_of(zoomed, kGoodStands[4], random);
  const LensCalibration found = calibrate_lens(named(sights), kPicture, kCardSheet);
  ASSERT_FALSE(found.refusal) << found.refusal->what;
  ASSERT_EQ(found.photos.size(), sights.size());
  EXPECT_EQ(found.photos.back().path, "photo-5");
  ASSERT_TRUE(found.photos.back().left_out);
  EXPECT_NE(found.photos.back().left_out->find("other focus or zoom"), std::string::npos);
  EXPECT_NEAR(found.camera.fx, lens.focal, 3 * found.camera.u_focal_rel * lens.focal);
}

TEST(LensCalibration, SaysThatHeadOnPicturesDoNotTellTheFocalLength) {
  TrueLens lens;
  lens.noise_px = 0.3;
  const std::vector<Stand> level{
      {0.5, 0}, {1, 60}, {0.7, 130, 112, {5, 2}}, {0.4, 190, 115, {-6, 3}}, {1, 250}, {0.8, 310, 108, {4, -5}}};
  const LensCalibration found = calibrate_lens(named(sights_of(lens, level, 8)), kPicture, kCardSheet);
  const std::string said = found.refusal ? found.refusal->what : found.warnings.empty() ? "" : found.warnings[0];
  EXPECT_NE(said.find("tilted by 20 to 30 degrees"), std::string::npos) << said;
  // The uncertainty must not claim what the pictures do not tell.
  EXPECT_LE(std::abs(found.camera.fx / lens.focal - 1), 3 * found.camera.u_focal_rel);
  EXPECT_GT(found.camera.u_focal_rel, 0.005);
}

TEST(LensCalibration, SaysWhichCornersWereNeverCovered) {
  TrueLens lens;
  lens.noise_px = 0.2;
  std::vector<BoardSight> sights = sights_of(lens, kGoodStands, 9);
  for (BoardSight& sight : sights) {
    std::erase_if(sight, [](const Sighting& s) { return s.px.x() > 1900 && s.px.y() > 1400; });
  }
  const LensCalibration found = calibrate_lens(named(sights), kPicture, kCardSheet);
  ASSERT_FALSE(found.refusal) << found.refusal->what;
  ASSERT_FALSE(found.warnings.empty());
  EXPECT_NE(found.warnings[0].find("bottom right"), std::string::npos) << found.warnings[0];
}

TEST(LensCalibration, NeedsSixPhotographs) {
  const std::vector<Stand> five(kGoodStands.begin(), kGoodStands.begin() + 5);
  const LensCalibration found = calibrate_lens(named(sights_of(TrueLens(), five, 10)), kPicture, kCardSheet);
  ASSERT_TRUE(found.refusal);
  EXPECT_EQ(found.refusal->what.find("5 photographs of the card can be used, 6 needed"), 0U) << found.refusal->what;
}

// From pixels: a rendered card in a picture stored lying and shown upright (EXIF 6).
TEST(LensSight, SpeaksOfTheStoredPicture) {
  testing::BoardScene scene;
  scene.size = cv::Size(1600, 1200);
  scene.view.camera = testing::plain_camera(1250, scene.size);
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 100, 24 * kDegree, 0.8, 0.2);
  scene.noise_8bit = 2;
  Photo photo = testing::photographed(scene, 27);
  cv::rotate(photo.bgr, photo.bgr, cv::ROTATE_90_CLOCKWISE);
  photo.exif.orientation = 6;
  const auto card = lens_sight(photo, glintline::Setup{});
  ASSERT_TRUE(card.ok()) << card.error().what;
  EXPECT_GE(card->sight.seen.size(), 100U);
  for (const Sighting& s : card->sight.seen) {
    const Point2 exact = scene.view.pixel(Point3(s.board_mm.x(), s.board_mm.y(), 0));
    // Rendered at a blur of 1 px with noise: saddles within a tenth of a pixel (saddle_fit_test.cpp).
    EXPECT_LT((s.px - exact).norm(), 0.15) << s.board_mm.transpose();
  }
}

// Real photographs: the chessboards left01.jpg to left14.jpg of OpenCV 4.6's samples/data (Debian's package opencv-doc;
// Apache-2.0, licence beside them): 9 x 6 inner corners, squares of 25 mm.
class Chessboards : public ::testing::Test {
 protected:
  static constexpr int kAcross = 9;
  static constexpr int kDown = 6;
  static constexpr double kSquareMm = 25;

  static fs::path folder() { return fs::path(GLINTLINE_SOURCE_DIR) / "tests/locate/chessboards"; }

  /// Corners found by OpenCV as guesses, measured by our own saddle fit where it sees a crossing.
  static BoardSight corners_in(const cv::Mat& bgr) {
    std::vector<cv::Point2f> found;
    BoardSight sight;
    if (!cv::findChessboardCorners(bgr, {kAcross, kDown}, found)) return sight;
    const LinearLight light;
    const auto at = [&](int i, int j) { return Point2(found[j * kAcross + i].x, found[j * kAcross + i].y); };
    for (int j = 0; j < kDown; ++j) {
      for (int i = 0; i < kAcross; ++i) {
        SaddleGuess guess;
        guess.px = at(i, j);
        guess.px_from_squares.col(0) = i + 1 < kAcross ? at(i + 1, j) - at(i, j) : at(i, j) - at(i - 1, j);
        guess.px_from_squares.col(1) = j + 1 < kDown ? at(i, j + 1) - at(i, j) : at(i, j) - at(i, j - 1);
        for (const bool dark : {false, true}) {
          guess.dark_top_left = dark;
          const auto seen = fit_saddle(bgr, light, guess);
          if (seen) sight.push_back({Point2(kSquareMm * (i + 1), kSquareMm * (j + 1)), seen->px, seen->u_px});
        }
      }
    }
    return sight;
  }
};

TEST_F(Chessboards, GiveTheCameraThatOpenCvPublishes) {
  std::vector<LensSight> sights;
  cv::Size size;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder())) {
    if (entry.path().extension() != ".jpg") continue;
    const auto photo = read_photo(entry.path());
    ASSERT_TRUE(photo.ok()) << photo.error().what;
    size = photo->bgr.size();
    sights.push_back({entry.path().filename().string(), corners_in(photo->bgr)});
    // Of 54; in the oblique ones the far squares are too small for the saddle fit's window.
    EXPECT_GE(sights.back().seen.size(), 35U) << entry.path();
  }
  ASSERT_EQ(sights.size(), 13U);
  const SheetPrior board{Point2(10 * kSquareMm, 7 * kSquareMm), 0.005, 0.5};
  const LensCalibration found = calibrate_lens(sights, size, board);
  ASSERT_FALSE(found.refusal) << found.refusal->what;
  std::printf("chessboards: f %.2f +- %.2f px, centre %.2f %.2f, k1 %.4f, rms %.3f px\n", found.camera.fx,
              2 * found.camera.u_focal_rel * found.camera.fx, found.camera.cx, found.camera.cy,
              found.camera.distortion[0], found.rms_px);

  const cv::FileStorage published((folder() / "left_intrinsics.yml").string(), cv::FileStorage::READ);
  cv::Mat matrix, distortion;
  published["camera_matrix"] >> matrix;
  published["distortion_coefficients"] >> distortion;
  // Published focal length 535.9 px, one outlier among its pictures; other detectors of corners give 533 to 538.
  EXPECT_GE(found.camera.fx, 533);
  EXPECT_LE(found.camera.fx, 538);
  EXPECT_NEAR(found.camera.cx, matrix.at<double>(0, 2), 3);
  EXPECT_NEAR(found.camera.cy, matrix.at<double>(1, 2), 3);
  EXPECT_NEAR(found.camera.distortion[0], distortion.at<double>(0), 0.03);
  // 0.20 px with OpenCV's corners, as a distance; a coordinate's is smaller by the root of two.
  EXPECT_LE(found.rms_px, 0.20);
}

}  // namespace
}  // namespace glintline
