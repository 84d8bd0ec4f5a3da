#include "model/camera_view.h"

#include <cmath>

namespace glintline {

namespace {

/// OpenCV's model (opencv, calib3d, "Detailed Description"): x' = x (1 + k1 r2 + k2 r4 + k3 r6) + tangential terms.
Point2 distorted(const Point2& p, const std::array<double, 5>& d) {
  const double x = p.x();
  const double y = p.y();
  const double r2 = x * x + y * y;
  const double radial = 1 + r2 * (d[0] + r2 * (d[1] + r2 * d[4]));
  return {x * radial + 2 * d[2] * x * y + d[3] * (r2 + 2 * x * x), y * radial + d[2] * (r2 + 2 * y * y) + 2 * d[3] * x * y};
}

}  // namespace

Point2 Camera::pixel(const Point3& x_in_camera) const {
  const Point2 p = distorted(x_in_camera.head<2>() / x_in_camera.z(), distortion);
  return {fx * p.x() + cx, fy * p.y() + cy};
}

Point2 Camera::direction(const Point2& px) const {
  const Point2 wanted((px.x() - cx) / fx, (px.y() - cy) / fy);
  Point2 p = wanted;
  for (int i = 0; i < 20; ++i) {
    const Point2 step = wanted - distorted(p, distortion);
    p += step;
    if (step.squaredNorm() < 1e-22) break;
  }
  return p;
}

Point2 CameraView::pixel(const Point3& x_in_board) const { return camera.pixel(camera_from_board * x_in_board); }

Point2 CameraView::at_height(const Point2& px, double height_mm) const {
  const Point2 d = camera.direction(px);
  const Point3 eye_in_board = eye();
  const Point3 ray = camera_from_board.rotation.transpose() * Point3(d.x(), d.y(), 1);
  const double along = (-height_mm - eye_in_board.z()) / ray.z();
  return (eye_in_board + along * ray).head<2>();
}

double CameraView::mm_per_px(const Point2& px, double height_mm) const {
  const Point2 here = at_height(px, height_mm);
  const Point2 right = at_height(px + Point2(1, 0), height_mm) - here;
  const Point2 down = at_height(px + Point2(0, 1), height_mm) - here;
  return std::sqrt(std::abs(right.x() * down.y() - right.y() * down.x()));
}

}  // namespace glintline
