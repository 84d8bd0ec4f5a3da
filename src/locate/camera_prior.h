#pragma once

#include <string>
#include <vector>

#include "model/photo.h"
#include "model/setup.h"

namespace glintline {

/// A camera calibrated on the stored picture (width x height), as the upright picture of `orientation` (EXIF, 1 to 8)
/// sees it. Exact: the four-fold turns and mirrors move the centre and turn the tangential coefficients.
[[nodiscard]] Camera upright_camera(const Camera& stored, int width, int height, int orientation);

/// Where a pixel of the upright picture lies in the stored one of width x height.
[[nodiscard]] Point2 stored_pixel(const Point2& upright, int width, int height, int orientation);

/// What is believed of the camera before the card is looked at: the expected values, each with its standard
/// uncertainty. The camera's own u_focal_rel and u_centre_px are filled in accordingly.
struct CameraPrior {
  Camera camera;
  double u_log_focal = 0;
  double u_centre_px = 0;
  double u_k1 = 0;
  double u_k2 = 0;
  std::vector<std::string> warnings;
};

/// Camera file, else the EXIF 35 mm equivalent, else the distance from which cards are usually photographed: a long lens
/// from afar and a short one from nearby show a card alike, and neither may surprise.
///
/// The 35 mm equivalent goes by the diagonal, 43.27 mm (CIPA DCG-001), and holds for a far focus. At the magnification
/// m a lens that is moved as a whole stands f (1 + m) from its sensor, one that focuses inside stays at f or shortens:
/// the told value is kept and log(1 + m) / 2 joins the standard uncertainty.
/// In: mm_per_px on the card, roughly, from which m follows; with the true focal length in the EXIF.
[[nodiscard]] CameraPrior camera_prior(const Photo& photo, const Setup& setup, double mm_per_px);

}  // namespace glintline
