#pragma once

#include <filesystem>

#include "base/result.h"
#include "model/camera.h"

namespace glintline {

/// A calibrated camera, and the size of the *stored* pictures it is for.
struct CameraFile {
  Camera camera;
  int width = 0;
  int height = 0;
};

/// Reads a camera file as OpenCV's calibration programs write it (YAML, XML or JSON by cv::FileStorage):
/// `camera_matrix` (3 x 3), `distortion_coefficients` (4 or 5 values k1 k2 p1 p2 [k3], may be absent), `image_width`,
/// `image_height`. Beside them, ours: `u_focal_rel` (standard uncertainty of the focal length, a share; default 0.01,
/// because autofocus and stabilisation move it, proposed) and `u_centre_px` (default 0.5 % of the width). Other keys
/// are left alone: the calibration programs write many.
/// Fails with kFileMissing, or kBadOption: not readable, keys missing, a matrix that is no camera's.
[[nodiscard]] Result<CameraFile> read_camera_file(const std::filesystem::path& path);

}  // namespace glintline
