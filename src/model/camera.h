#pragma once

#include <array>

#include "math/geometry.h"

namespace glintline {

/// What the focal length rests on, best first.
enum class FocalSource {
  kCameraFile,  ///< a calibration of this very camera
  kExif,        ///< the 35 mm equivalent in the photograph
  kPicture,     ///< the card's perspective in the picture itself
  kDefault,     ///< nothing better: a usual phone
};

/// A pinhole camera with OpenCV's distortion (k1, k2, p1, p2, k3), for the *upright* photograph.
/// Pixels: whole numbers are pixel centres, the centre of the top-left pixel is (0, 0), x right, y down.
struct Camera {
  double fx = 0;
  double fy = 0;
  double cx = 0;
  double cy = 0;
  std::array<double, 5> distortion{};
  double u_focal_rel = 0;  ///< standard uncertainty of fx and fy together, as a share
  double u_centre_px = 0;  ///< standard uncertainty of cx and of cy
  FocalSource source = FocalSource::kDefault;

  /// Pixel of a point in the camera frame (z forward, mm). Assumes z > 0.
  [[nodiscard]] Point2 pixel(const Point3& x_in_camera) const;

  /// Direction (x/z, y/z) in the camera frame of a pixel: distortion removed by fixed-point iteration, exact to
  /// 1e-9 for |r| <= 1 and phone-like coefficients.
  [[nodiscard]] Point2 direction(const Point2& px) const;
};

}  // namespace glintline
