#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "locate/find_saddles.h"
#include "locate/locate_card.h"
#include "read/photo_file.h"
#include "support/truth.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

constexpr double kDegree = M_PI / 180;

std::vector<fs::path> jpegs(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() == ".jpg") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

struct SaddleErrors {
  double rms_px = 0;
  Point2 mean_px = Point2::Zero();
};

SaddleErrors saddle_errors(const CardSaddles& seen, const nlohmann::json& truth) {
  const CardPose exact = testing::exact_card_pose(truth);
  const double curl = truth["card"]["curl_mm"];
  SaddleErrors errors;
  double squares = 0;
  for (const SeenSaddle& s : seen.saddles) {
    const double u = 2 * s.printed.at_mm.x() / seen.layout.width_mm() - 1;
    const Point2 error = s.px - exact.view.pixel(Point3(s.printed.at_mm.x(), s.printed.at_mm.y(), -curl * u * u));
    squares += error.squaredNorm();
    errors.mean_px += error / static_cast<double>(seen.saddles.size());
  }
  errors.rms_px = std::sqrt(squares / (2 * static_cast<double>(seen.saddles.size())));
  return errors;
}

/// Lengths at nine places over the field, in one plane.
struct LengthErrors {
  double worst_percent = 0;
  double worst_z = 0;
  double u95_percent = 0;
};

LengthErrors length_errors(const CardPose& pose, const CameraView& truth, double height_mm) {
  LengthErrors errors;
  const Point2 board = pose.board().max;
  const Point2 half(0.04 * board.x(), 0.01 * board.y());
  for (const double fx : {0.3, 0.5, 0.7}) {
    for (const double fy : {0.35, 0.5, 0.65}) {
      const Point2 at(fx * board.x(), fy * board.y());
      const Point2 a = truth.pixel(Point3(at.x() - half.x(), at.y() - half.y(), -height_mm));
      const Point2 b = truth.pixel(Point3(at.x() + half.x(), at.y() + half.y(), -height_mm));
      const auto length = [&](const CameraView& v) {
        return (v.at_height(b, height_mm) - v.at_height(a, height_mm)).norm();
      };
      const double seen = length(pose.view);
      const double error = seen / (2 * half.norm()) - 1;
      double u2 = 0;
      for (const ViewVariation& v : pose.variations) u2 += std::pow((length(v.view) - seen) / (2 * half.norm()), 2);
      if (std::abs(100 * error) > std::abs(errors.worst_percent)) errors.worst_percent = 100 * error;
      if (std::abs(error / std::sqrt(u2)) > std::abs(errors.worst_z)) errors.worst_z = error / std::sqrt(u2);
      errors.u95_percent = std::max(errors.u95_percent, 200 * std::sqrt(u2));
    }
  }
  return errors;
}

void compare(const fs::path& file) {
  const auto photo = read_photo(file);
  ASSERT_TRUE(photo) << photo.error().what;
  const nlohmann::json truth = testing::truth_of(file);
  const CardPose exact = testing::exact_card_pose(truth);
  const auto pose = locate_card(*photo, glintline::Setup{});
  if (exact.tilt_rad > kLargestTiltRad + 0.5 * kDegree) {
    ASSERT_FALSE(pose) << file << " is tilted by " << exact.tilt_rad / kDegree << " degrees";
    EXPECT_EQ(pose.error().fault, Fault::kTilted);
    std::printf("%-16s tilt %5.2f: refused\n", file.stem().c_str(), exact.tilt_rad / kDegree);
    return;
  }
  ASSERT_TRUE(pose) << file << ": " << pose.error().what;
  const SaddleErrors saddles = saddle_errors(*find_saddles(*photo, glintline::Setup{}), truth);
  const LengthErrors on_card = length_errors(*pose, exact.view, 0);
  const LengthErrors above = length_errors(*pose, exact.view, 5.5);
  const Point3 eye = pose->view.eye() - exact.view.eye();
  std::printf(
      "%-16s saddles %3d rms %.3f mean %+.3f %+.3f | tilt %5.2f (%5.2f) | h 0: worst %+.3f %% u95 %.2f z %+.2f"
      " | h 5.5: worst %+.3f %% u95 %.2f z %+.2f | eye %+.2f %+.2f %+.2f mm\n",
      file.stem().c_str(), pose->saddles, saddles.rms_px, saddles.mean_px.x(), saddles.mean_px.y(),
      pose->tilt_rad / kDegree, exact.tilt_rad / kDegree, on_card.worst_percent, on_card.u95_percent, on_card.worst_z,
      above.worst_percent, above.u95_percent, above.worst_z, eye.x(), eye.y(), eye.z());
  const bool curled = truth["card"]["curl_mm"].get<double>() > 0;
  // The lens pictures have a quarter of the pixels, heavy grain and up to 20 degrees of tilt.
  const bool small = photo->bgr.total() < 4'000'000;
  EXPECT_LE(saddles.rms_px, curled ? 0.5 : small ? 0.35 : 0.3);
  EXPECT_LE(saddles.mean_px.norm(), 0.1);
  EXPECT_NEAR(pose->tilt_rad, exact.tilt_rad, 1 * kDegree);
  EXPECT_LE(std::abs(on_card.worst_z), 2);
  EXPECT_LE(std::abs(above.worst_z), 2);
  EXPECT_LE(std::abs(above.worst_percent), 0.3);
}

TEST(Photographs, GiveScaleTiltAndEyeWithinTheirUncertainty) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  std::vector<fs::path> files = jpegs(*set);
  const std::vector<fs::path> lens = jpegs(*set / "lens");
  files.insert(files.end(), lens.begin(), lens.end());
  for (const fs::path& file : files) compare(file);
}

// Real photographs, OpenCV contrib 4.6 (Apache-2.0): ChArUco, grid and single markers of another family.
TEST(Photographs, OfOtherBoardsAreRefusedAsTheWrongCard) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  for (const char* name : {"img_00.jpg", "img_01.jpg", "img_02.jpg", "img_03.jpg", "chocclusion_original.jpg"}) {
    const auto photo = read_photo(*set / "real" / "opencv-aruco" / name);
    ASSERT_TRUE(photo) << name << ": " << photo.error().what;
    const auto pose = locate_card(*photo, glintline::Setup{});
    ASSERT_FALSE(pose) << name;
    EXPECT_EQ(pose.error().fault, Fault::kWrongCard) << name << ": " << pose.error().what;
  }
}

// Real photographs without any board: worn milling edges and washers (MIT), a landscape (MIT).
TEST(Photographs, WithoutABoardAreRefusedForWantOfACard) {
  const auto set = testing::larger_set();
  if (!set) GTEST_SKIP() << "the larger photograph set is not here";
  std::vector<fs::path> files = jpegs(*set / "real" / "mill-edge-wear");
  files.push_back(*set / "real" / "exif-orientation" / "Landscape_6.jpg");
  files.push_back(*set / "real" / "washers" / "ccd1-0001.png");
  for (const fs::path& file : files) {
    const auto photo = read_photo(file);
    ASSERT_TRUE(photo) << file << ": " << photo.error().what;
    const auto pose = locate_card(*photo, glintline::Setup{});
    ASSERT_FALSE(pose) << file;
    EXPECT_EQ(pose.error().fault, Fault::kNoCard) << file << ": " << pose.error().what;
  }
}

}  // namespace
}  // namespace glintline
