#pragma once

#include <string>

#include "base/result.h"
#include "model/lens_calibration.h"

namespace glintline {

/// The calibration as a camera file: YAML as OpenCV's cv::FileStorage reads it, with the keys of its calibration
/// programs (image_width, image_height, camera_matrix, distortion_coefficients, avg_reprojection_error) and beside them
/// u_focal_rel, u_centre_px, the covariance (in the order named beside it) and what every photograph did.
/// Assumes a calibration that was not refused.
[[nodiscard]] std::string camera_yaml(const LensCalibration& lens);

/// The calibration as a person reads it: a line a photograph (crossings, misses, tilt, or why it was left out), the
/// camera with its u95 (k = 2), the warnings; or why no camera could be learnt. Plain text for any terminal.
[[nodiscard]] std::string lens_text(const LensCalibration& lens);

/// A picture of where the crossings fell and by how much the camera misses them (arrows, magnified as told in the
/// picture), and how each photograph did; bytes of a JPEG file. Fails: kCannotWrite.
[[nodiscard]] Result<std::string> lens_picture(const LensCalibration& lens);

/// A name for the camera's file, from its make and model: lower case, words joined by "-"; "camera" where none is told.
[[nodiscard]] std::string camera_file_stem(const LensCalibration& lens);

}  // namespace glintline
