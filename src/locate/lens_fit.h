#pragma once

#include <array>
#include <vector>

#include "locate/card_fit.h"
#include "model/lens_calibration.h"

namespace glintline {

/// A flat printed pattern as one photograph shows it: nominal board points and where they were seen, *stored* pixels.
using BoardSight = std::vector<Sighting>;

/// How far the sheet may be off its nominal, flat shape. One sheet in all photographs.
struct SheetPrior {
  Point2 size_mm = Point2::Zero();  ///< over all: the bow is counted from its middle to its ends
  double u_unlike = 0.0025;         ///< standard uncertainty of its stretch along X over that along Y, a share
  double u_bow_mm = 0.3;            ///< standard uncertainty of the lift of its ends over its middle
};

/// A camera fitted to several sights of one sheet.
struct LensFit {
  Camera camera;
  LensCovariance covariance;
  double unlike = 0;
  double bow_x_mm = 0;
  double bow_y_mm = 0;
  double common_px = 0;                           ///< misfit per coordinate beyond what the pixels tell
  double scatter = 1;                             ///< see LensCalibration
  std::vector<Pose> camera_from_board;            ///< one a sight
  std::vector<std::vector<Point2>> residuals_px;  ///< seen less modelled
  std::vector<std::vector<double>> weights;       ///< 0: thrown out
};

/// Bundle adjustment: one pinhole camera with OpenCV's k1 k2 p1 p2 k3, one pose a sight, one common bow and unlike
/// stretch of the sheet; Tukey's loss on residuals scaled to unit variance; minimised by Ceres.
///
/// Next to nothing is believed beforehand: a focal length within a factor of two of a usual one, the centre within a
/// tenth of the picture, square pixels (0.1 %), distortion coefficients up to about 0.5 (tangential ones 0.01). The
/// common scale of sheet and distance cannot be told and does not touch the camera.
///
/// Covariance: inverse of the information, widened by `scatter`² where photographs disagree more than their crossings
/// do (delete-one jackknife over the photographs; Efron, The Jackknife, the Bootstrap and Other Resampling Plans, 1982,
/// eq. 3.13): focus that breathes, paper that moved and saddles that miss in common are not averaged away.
/// Assumes at least three sights of at least 8 points not in line.
/// Source: Zhang, A flexible new technique for camera calibration, IEEE PAMI 22, 2000; opencv, calib3d (the model).
[[nodiscard]] LensFit fit_lens(const std::vector<BoardSight>& sights, const cv::Size& stored, const SheetPrior& sheet);

}  // namespace glintline
