#include "measure/sight_advice.h"

#include <cmath>

#include "base/text.h"
#include "measure/profile_heights.h"

namespace glintline {

namespace {

constexpr double kDegree = M_PI / 180;
constexpr double kFreeRad = 4 * kDegree;

/// How far the camera stands beyond the top plate, away from the bar, and how high over it; mm.
struct CameraPlace {
  double beyond_mm;
  double over_mm;
};

std::optional<CameraPlace> place_of(const CutterOutline& cutter, const CardPose& pose, double height_mm) {
  if (cutter.top.empty()) return std::nullopt;
  const Point2 rear = pose.view.at_height(cutter.rear_rivet.centre_px, height_mm);
  const Point2 front = pose.view.at_height(cutter.front_rivet.centre_px, height_mm);
  const Point2 top = pose.view.at_height(cutter.top[cutter.top.size() / 2].px, height_mm);
  Point2 up = turned_quarter((front - rear).normalized());
  if ((top - rear).dot(up) < 0) up = -up;
  const Point3 eye = pose.view.eye();
  return CameraPlace{(eye.head<2>() - top).dot(up), -eye.z() - height_mm};
}

}  // namespace

std::optional<double> sight_about_chain(const CutterOutline& cutter, const CardPose& pose, double height_mm) {
  const auto place = place_of(cutter, pose, height_mm);
  if (!place) return std::nullopt;
  return std::atan2(place->beyond_mm, place->over_mm);
}

std::optional<std::string> sight_advice(const ProfileOutlines& outlines, const CardPose& pose, const Setup& setup) {
  if (setup.chain.top_plate_width) return std::nullopt;
  std::optional<CameraPlace> worst;
  double worst_rad = kFreeRad;
  for (const CutterOutline& cutter : outlines.cutters) {
    const auto place = place_of(cutter, pose, profile_heights(setup, cutter.outer_face_up).usual.plate_outer);
    if (!place) continue;
    const double sight_rad = std::abs(std::atan2(place->beyond_mm, place->over_mm));
    if (sight_rad <= worst_rad) continue;
    worst_rad = sight_rad;
    worst = place;
  }
  if (!worst) return std::nullopt;
  return std::string("seen from ") + fixed(worst_rad / kDegree, 0) + " degrees about the chain: move the camera " +
         fixed(std::abs(worst->beyond_mm), 0) + " mm towards " +
         (worst->beyond_mm > 0 ? "the bar's side" : "the top plates' side") +
         ", level, so that it looks straight down on the top plates, or put their width on the chain's sheet";
}

}  // namespace glintline
