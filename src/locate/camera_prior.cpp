#include "locate/camera_prior.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

constexpr double kFilmDiagonalMm = 43.2666;  // of 36 x 24 mm

// Share by which the equivalent focal length misses, beside its rounding to whole millimetres: crops for
// stabilisation, one sample of the lens against the next (by judgement).
constexpr double kExifFocalU = 0.015;
// Autofocus moves the lens between the calibration's distance and this picture's.
constexpr double kCameraFileFocusU = 0.005;
// Nothing told: lenses range from 13 mm to beyond 150, but a camera over a card stands 55 to 330 mm from it: nearer it
// neither focuses nor lets light in, farther arms do not reach (common practice, no source). The geometric middle, and
// half of that reach as two standard uncertainties.
constexpr double kUsualReachMm = 135;
constexpr double kUsualReachU = 0.45;
// Where not even the card's size in the picture is known: the main camera of a phone, 23 to 28 mm.
constexpr double kUsualPhone35mm = 27;

// Phones correct most of their distortion before they store the picture; what is left, or all of a plain macro lens's,
// rarely exceeds this share at a field angle of 45 degrees (by judgement).
constexpr double kUnknownK1U = 0.07;
constexpr double kUnknownK2U = 0.1;
constexpr double kKnownK1U = 0.005;
constexpr double kKnownK2U = 0.01;
constexpr double kUnknownCentreShare = 0.01;  // of the longer side
constexpr double kKnownCentreFloorPx = 1;

struct Turn {
  Eigen::Matrix2d axes;  // upright = axes * stored + offset
  Point2 offset;
};

// EXIF 2.3, tag 274: which side of the stored picture is the visual top.
Turn turn_of(int orientation, int width, int height) {
  const double right = width - 1;
  const double bottom = height - 1;
  Eigen::Matrix2d m;
  switch (orientation) {
    case 2:
      m << -1, 0, 0, 1;
      return {m, {right, 0}};
    case 3:
      m << -1, 0, 0, -1;
      return {m, {right, bottom}};
    case 4:
      m << 1, 0, 0, -1;
      return {m, {0, bottom}};
    case 5:
      m << 0, 1, 1, 0;
      return {m, {0, 0}};
    case 6:
      m << 0, -1, 1, 0;
      return {m, {bottom, 0}};
    case 7:
      m << 0, -1, -1, 0;
      return {m, {bottom, right}};
    case 8:
      m << 0, 1, -1, 0;
      return {m, {0, right}};
    default:
      m << 1, 0, 0, 1;
      return {m, {0, 0}};
  }
}

Camera scaled_camera(Camera camera, double factor) {
  camera.fx *= factor;
  camera.fy *= factor;
  camera.cx = (camera.cx + 0.5) * factor - 0.5;
  camera.cy = (camera.cy + 0.5) * factor - 0.5;
  camera.u_centre_px *= factor;
  return camera;
}

void centre_camera(Camera& camera, const Photo& photo, double focal_px) {
  camera.fx = camera.fy = focal_px;
  camera.cx = (photo.bgr.cols - 1) / 2.0;
  camera.cy = (photo.bgr.rows - 1) / 2.0;
}

void finish(CameraPrior& prior) {
  prior.camera.u_focal_rel = prior.u_log_focal;
  prior.camera.u_centre_px = prior.u_centre_px;
}

CameraPrior from_file(const Camera& stored, const Photo& photo, double factor) {
  const cv::Size size = photo.stored_size();
  CameraPrior prior;
  prior.camera = upright_camera(scaled_camera(stored, factor), size.width, size.height, photo.exif.orientation);
  prior.camera.source = FocalSource::kCameraFile;
  prior.u_log_focal = std::hypot(stored.u_focal_rel, kCameraFileFocusU);
  prior.u_centre_px = std::hypot(prior.camera.u_centre_px, kKnownCentreFloorPx);
  prior.u_k1 = kKnownK1U;
  prior.u_k2 = kKnownK2U;
  finish(prior);
  return prior;
}

// Relative reach of the focus movement, log(1 + m); nothing known of the sensor: that of a phone at 10 cm.
double focus_reach(const Photo& photo, double focal_px, double mm_per_px) {
  constexpr double kPhoneAtTenCentimetres = 0.05;
  if (!photo.exif.focal_mm || !(mm_per_px > 0)) return kPhoneAtTenCentimetres;
  const double magnification = *photo.exif.focal_mm / focal_px / mm_per_px;
  return std::log1p(std::min(magnification, 1.0));
}

double u_log_told(double focal_35mm, double reach) {
  const double rounding = 0.5 / std::sqrt(3.0) / focal_35mm;
  return std::sqrt(kExifFocalU * kExifFocalU + rounding * rounding + reach * reach / 4);
}

CameraPrior without_file(const Photo& photo, double mm_per_px) {
  CameraPrior prior;
  const double diagonal = std::hypot(photo.bgr.cols, photo.bgr.rows);
  const bool told = photo.exif.focal_35mm && *photo.exif.focal_35mm > 0;
  const double focal_35mm = told ? *photo.exif.focal_35mm : kUsualPhone35mm;
  const bool by_reach = !told && mm_per_px > 0;
  const double focal_px = by_reach ? kUsualReachMm / mm_per_px : focal_35mm / kFilmDiagonalMm * diagonal;
  centre_camera(prior.camera, photo, focal_px);
  prior.camera.source = told ? FocalSource::kExif : FocalSource::kDefault;
  prior.u_log_focal = told ? u_log_told(focal_35mm, focus_reach(photo, focal_px, mm_per_px)) : kUsualReachU;
  prior.u_centre_px = kUnknownCentreShare * std::max(photo.bgr.cols, photo.bgr.rows);
  prior.u_k1 = kUnknownK1U;
  prior.u_k2 = kUnknownK2U;
  finish(prior);
  return prior;
}

}  // namespace

Camera upright_camera(const Camera& stored, int width, int height, int orientation) {
  const Turn turn = turn_of(orientation, width, height);
  Camera upright = stored;
  const Point2 centre = turn.axes * Point2(stored.cx, stored.cy) + turn.offset;
  upright.cx = centre.x();
  upright.cy = centre.y();
  if (orientation >= 5) std::swap(upright.fx, upright.fy);
  // The tangential terms are r2 v + 2 x (v . x) with v = (p2, p1): v turns as a vector does.
  const Point2 tangential = turn.axes * Point2(stored.distortion[3], stored.distortion[2]);
  upright.distortion[3] = tangential.x();
  upright.distortion[2] = tangential.y();
  return upright;
}

Point2 stored_pixel(const Point2& upright, int width, int height, int orientation) {
  const Turn turn = turn_of(orientation, width, height);
  return turn.axes.transpose() * (upright - turn.offset);
}

CameraPrior camera_prior(const Photo& photo, const Setup& setup, double mm_per_px) {
  if (!setup.camera) return without_file(photo, mm_per_px);
  const cv::Size size = photo.stored_size();
  const double across = static_cast<double>(size.width) / setup.camera_width;
  const double down = static_cast<double>(size.height) / setup.camera_height;
  constexpr double kRounding = 0.002;  // a scaled picture's sides are whole pixels
  if (std::abs(across / down - 1) <= kRounding) return from_file(*setup.camera, photo, across);
  CameraPrior prior = without_file(photo, mm_per_px);
  prior.warnings.push_back("the camera file is for pictures of " + std::to_string(setup.camera_width) + " x " +
                           std::to_string(setup.camera_height) + " pixels, this one has " + std::to_string(size.width) +
                           " x " + std::to_string(size.height) + ": not used; calibrate the camera at this size");
  return prior;
}

}  // namespace glintline
