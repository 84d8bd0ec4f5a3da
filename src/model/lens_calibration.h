#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "model/camera.h"

namespace glintline {

/// What a calibration settles, in the order of LensCalibration::covariance.
enum LensParameter {
  kLensFx,  // px
  kLensFy,
  kLensCx,
  kLensCy,
  kLensK1,
  kLensK2,
  kLensP1,
  kLensP2,
  kLensK3,
  kLensParameters
};
using LensCovariance = Eigen::Matrix<double, kLensParameters, kLensParameters>;

/// One crossing of the card's squares and by how much the calibrated camera misses it.
struct LensMiss {
  Point2 px = Point2::Zero();       ///< as seen, stored picture
  Point2 miss_px = Point2::Zero();  ///< seen less modelled
  double weight = 0;                ///< 0: thrown out, 1: fully trusted
};

/// One photograph of a calibration.
struct LensPhoto {
  std::string path;
  std::optional<std::string> left_out;  ///< why it does not count; then the rest may be empty
  double rms_px = 0;                    ///< per coordinate, over the crossings not thrown out
  double tilt_rad = 0;                  ///< between optical axis and the card's normal
  std::vector<LensMiss> misses;
};

/// A camera learnt from photographs of the card, for the *stored* picture.
struct LensCalibration {
  std::optional<Error> refusal;  ///< why no camera could be learnt; then only `photos` is filled
  Camera camera;                 ///< its u_focal_rel and u_centre_px follow from the covariance
  int width = 0;
  int height = 0;
  std::string camera_name;                             ///< make and model by EXIF; may be empty
  LensCovariance covariance = LensCovariance::Zero();  ///< of LensParameter
  double rms_px = 0;                                   ///< per coordinate, over all crossings that count
  double print_unlike = 0;  ///< by what share the print is longer along X than along Y, beyond what was told
  double bow_x_mm = 0;      ///< lift of the card's ends over its middle
  double bow_y_mm = 0;
  double scatter = 1;  ///< factor on the uncertainty by which the photographs disagree beyond their noise
  double covered = 0;  ///< share of the picture, in cells of an eighth by a sixth, that crossings fell into
  std::vector<LensPhoto> photos;
  std::vector<std::string> warnings;
};

/// Fewest photographs a camera is learnt from.
inline constexpr int kNeededLensPhotos = 6;
/// Cells of the picture that coverage is counted in.
inline constexpr int kCoverageColumns = 8;
inline constexpr int kCoverageRows = 6;

}  // namespace glintline
