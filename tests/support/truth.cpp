#include "support/truth.h"

#include <algorithm>
#include <fstream>

namespace glintline::testing {

namespace fs = std::filesystem;

nlohmann::json truth_of(const fs::path& photograph) {
  std::ifstream file(fs::path(photograph).replace_extension(".json"));
  return nlohmann::json::parse(file);
}

CardPose exact_card_pose(const nlohmann::json& truth) {
  CardPose pose;
  pose.kind = truth["card"]["kind"] == "close" ? CardKind::kClose : CardKind::kWide;
  pose.square_mm = truth["card"]["square_mm"];
  const auto& camera = truth["camera"]["upright"];
  pose.view.camera.fx = camera["matrix"][0][0];
  pose.view.camera.fy = camera["matrix"][1][1];
  pose.view.camera.cx = camera["matrix"][0][2];
  pose.view.camera.cy = camera["matrix"][1][2];
  for (int i = 0; i < 5; ++i) pose.view.camera.distortion[i] = camera["distortion"][i];
  pose.view.camera.source = FocalSource::kCameraFile;
  const auto& placed = truth["card_pose"]["upright"];
  const Point3 rvec(placed["rvec"][0], placed["rvec"][1], placed["rvec"][2]);
  if (rvec.norm() > 0) {
    pose.view.camera_from_board.rotation = Eigen::AngleAxisd(rvec.norm(), rvec.normalized()).toRotationMatrix();
  }
  pose.view.camera_from_board.translation =
      Point3(placed["tvec_mm"][0], placed["tvec_mm"][1], placed["tvec_mm"][2]);
  pose.tilt_rad = truth["card_pose"]["tilt_deg"].get<double>() * M_PI / 180;
  return pose;
}

bool lies_over_field(const nlohmann::json& truth, const nlohmann::json& cutter,
                     std::initializer_list<const char*> points) {
  const BoardBox field = exact_card_pose(truth).field();
  for (const char* point : points) {
    const auto& mm = cutter["points"][point]["board_mm"];
    const Point2 place(mm[0].get<double>(), mm[1].get<double>());
    if ((place - field.min).minCoeff() < 0 || (field.max - place).minCoeff() < 0) return false;
  }
  return cutter["seen"] == "whole";
}

std::vector<fs::path> photographs_of(const fs::path& folder, const char* view) {
  std::vector<fs::path> paths;
  for (const auto& entry : fs::directory_iterator(folder)) {
    const auto& path = entry.path();
    const bool pair = fs::exists(fs::path(path).replace_extension(".json"));
    if (path.extension() == ".jpg" && pair && truth_of(path)["view"] == view) paths.push_back(path);
  }
  std::sort(paths.begin(), paths.end());
  return paths;
}

std::optional<fs::path> larger_set() {
  const fs::path beside = fs::path(GLINTLINE_SOURCE_DIR).parent_path() / "shared" / "photos";
  if (fs::exists(beside / "README.md")) return beside;
  return std::nullopt;
}

}  // namespace glintline::testing
