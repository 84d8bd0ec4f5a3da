// What the source of the focal length costs, and whether its uncertainty is honest: lengths between known points of
// cutters, at their known heights over the card, through the pose that locating finds. Tracing has no part in it.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "locate/locate_card.h"
#include "math/statistics.h"
#include "read/photo_file.h"
#include "support/truth.h"

namespace glintline::testing {
namespace {

namespace fs = std::filesystem;

enum class Told { kCameraFile, kExif, kNothing };

struct Row {
  std::vector<double> errors_percent;
  std::vector<double> u95_percent;
  int inside = 0;

  [[nodiscard]] double coverage() const {
    return static_cast<double>(inside) / static_cast<double>(errors_percent.size());
  }
};

/// The true camera of a truth file as a calibration that is good to a tenth of a per cent.
void tell_camera(glintline::Setup& setup, const nlohmann::json& truth) {
  const auto& stored = truth["camera"]["stored"];
  Camera camera;
  camera.fx = stored["matrix"][0][0];
  camera.fy = stored["matrix"][1][1];
  camera.cx = stored["matrix"][0][2];
  camera.cy = stored["matrix"][1][2];
  for (std::size_t i = 0; i < camera.distortion.size(); ++i) camera.distortion[i] = stored["distortion"][i];
  camera.u_focal_rel = 0.001;
  camera.u_centre_px = 1;
  setup.camera = camera;
  setup.camera_width = truth["image"]["width"];
  setup.camera_height = truth["image"]["height"];
}

glintline::Setup setup_for(Told told, const nlohmann::json& truth) {
  glintline::Setup setup;
  setup.print = {1, 1, 0.0003, true};
  if (told == Told::kCameraFile) tell_camera(setup, truth);
  return setup;
}

Point2 point_px(const nlohmann::json& point) {
  return Point2(point["px"][0].get<double>(), point["px"][1].get<double>());
}

void add_cutters(const CardPose& pose, const nlohmann::json& truth, Row& row) {
  for (const auto& cutter : truth["cutters"]) {
    const auto& points = cutter["points"];
    if (cutter["seen"] != "whole" || !points.contains("rear_outer") || !points.contains("corner_sharp")) continue;
    const auto& a = points["rear_outer"];
    const auto& b = points["corner_sharp"];
    const Point2 from(a["board_mm"][0].get<double>(), a["board_mm"][1].get<double>());
    const Point2 to(b["board_mm"][0].get<double>(), b["board_mm"][1].get<double>());
    const auto length = [&](const CameraView& view) {
      return (view.at_height(point_px(b), b["board_mm"][2].get<double>()) -
              view.at_height(point_px(a), a["board_mm"][2].get<double>()))
          .norm();
    };
    const double measured = length(pose.view);
    double u2 = 0;
    for (const ViewVariation& v : pose.variations) u2 += std::pow(length(v.view) - measured, 2);
    const double error = measured - (to - from).norm();
    row.errors_percent.push_back(100 * error / (to - from).norm());
    row.u95_percent.push_back(200 * std::sqrt(u2) / (to - from).norm());
    row.inside += std::abs(error) <= 2 * std::sqrt(u2) ? 1 : 0;
  }
}

TEST(FocalSource, EachIsHonestAboutWhatItCosts) {
  fs::path folder = fs::path(GLINTLINE_SOURCE_DIR) / "samples/photos";
  if (const auto larger = larger_set()) folder = *larger;
  std::array<Row, 3> rows;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() != ".jpg") continue;
    const nlohmann::json truth = truth_of(entry.path());
    Result<Photo> read = read_photo(entry.path());
    ASSERT_TRUE(read.ok()) << read.error().what;
    Photo photo = std::move(read).value();
    for (const Told told : {Told::kCameraFile, Told::kExif, Told::kNothing}) {
      if (told == Told::kNothing) {
        photo.exif.focal_mm.reset();
        photo.exif.focal_35mm.reset();
      }
      const auto pose = locate_card(photo, setup_for(told, truth));
      ASSERT_TRUE(pose.ok()) << entry.path() << ": " << pose.error().what;
      add_cutters(*pose, truth, rows[static_cast<std::size_t>(told)]);
    }
  }
  constexpr std::array<const char*, 3> kNames{"camera file", "EXIF", "nothing told"};
  std::printf("%-14s %7s %8s %7s %8s %9s %9s\n", "focal source", "lengths", "bias %", "sd %", "worst %", "coverage",
              "med u95 %");
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const Row& row = rows[i];
    ASSERT_FALSE(row.errors_percent.empty());
    double worst = 0;
    for (const double e : row.errors_percent) worst = std::max(worst, std::abs(e));
    std::printf("%-14s %7zu %+8.3f %7.3f %8.3f %8.0f%% %9.3f\n", kNames[i], row.errors_percent.size(),
                mean(row.errors_percent), standard_deviation(row.errors_percent), worst, 100 * row.coverage(),
                median(row.u95_percent));
    EXPECT_GE(row.coverage(), 0.9) << kNames[i];
  }
  // Knowing more must make surer, never less.
  EXPECT_LE(median(rows[0].u95_percent), median(rows[1].u95_percent));
  EXPECT_LE(median(rows[1].u95_percent), median(rows[2].u95_percent));
}

}  // namespace
}  // namespace glintline::testing
