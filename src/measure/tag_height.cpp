#include "measure/tag_height.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

// Of a corner coordinate found at full resolution, blur's pull included (by experiment:
// tests/locate/tag_corners_test.cpp).
constexpr double kCornerUPx = 0.35;
// Paper is 0.1 mm thick and does not lie quite flat on a top plate; the plate's height varies by its fall along the
// tag.
constexpr double kLyingUMm = 0.15;
constexpr double kPaperMm = 0.1;
constexpr double kLeastHeightMm = 1;
constexpr double kClear = 3;

}  // namespace

KnownLength height_of_tag(const NumberTag& tag, const CardPose& pose, double side_mm) {
  std::array<double, 4> sides{};
  double px = 0;
  for (int i = 0; i < 4; ++i) {
    const Point2& a = tag.corners_px[i];
    const Point2& b = tag.corners_px[(i + 1) % 4];
    const Point2 on_card = pose.view.at_height(b, 0) - pose.view.at_height(a, 0);
    // Nominal again: the tag is printed as the card is.
    sides[i] = Point2(on_card.x() / pose.print.x, on_card.y() / pose.print.y).norm();
    px += (b - a).norm() / 4;
  }
  const double s0 = std::max(sides[0] + sides[2], sides[1] + sides[3]) / 2;
  const double eye_mm = -pose.view.eye().z();
  const double u_share = kCornerUPx / px;  // two sides of two corners each
  return {eye_mm * (1 - side_mm / s0), std::hypot(eye_mm * u_share, kLyingUMm)};
}

std::optional<KnownLength> height_of_plates(const CardPose& pose, double side_mm) {
  std::optional<KnownLength> clearest;
  for (const NumberTag& tag : pose.tags) {
    const KnownLength height = height_of_tag(tag, pose, side_mm);
    if (!(height.value_mm > kLeastHeightMm && height.value_mm > kClear * height.u_mm)) continue;
    if (!clearest || height.value_mm / height.u_mm > clearest->value_mm / clearest->u_mm) clearest = height;
  }
  if (clearest) clearest->value_mm -= kPaperMm;
  return clearest;
}

}  // namespace glintline
