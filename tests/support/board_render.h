#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "card/layout.h"
#include "model/camera_view.h"
#include "model/photo.h"

namespace glintline::testing {

/// A rectangle on the board, nominal board frame, mm.
struct BoardPatch {
  Point2 min_mm = Point2::Zero();
  Point2 max_mm = Point2::Zero();
  double level = 0;  ///< covers: reflectance of what lies there; shadows: share of the light that is left
};

/// A loose number tag lying flat on the board plane, its sides along the board's.
struct LooseTag {
  int number = 0;
  Point2 centre_mm = Point2::Zero();
};

/// Rays through a pixel that is not plain, in a Fibonacci lattice (both figures of that row): seen along either axis
/// they are evenly spaced, so that an upright edge is placed to half of 1 / `rays` px. A square grid of 12 x 12 would
/// place it to 1/24.
struct RayLattice {
  int rays;
  int step;
};
constexpr RayLattice kFineRays{144, 89};
constexpr RayLattice kQuickRays{55, 34};  ///< where noise of the picture hides 1/110 px

/// The reference card before a camera: what is printed, how it lies, how it is lit and what the camera does to it.
struct BoardScene {
  CardLayout layout = CardLayout(CardKind::kWide);
  CameraView view;  ///< true camera and pose; board frame in true mm
  cv::Size size{1600, 1200};
  double bow_x_mm = 0;  ///< lift of the left and right ends over the middle, quadratic
  double bow_y_mm = 0;
  double print_x = 1;  ///< true over nominal length
  double print_y = 1;
  double ink_spread_mm = 0;  ///< how far black grows over white on every edge of squares and modules
  double black = 0.04;       ///< reflectances, linear light
  double white = 0.75;
  double table = 0.18;
  cv::Vec3d field{0.40, 0.06, 0.007};  ///< blue, green, red
  double light_gradient = 0;           ///< relative change of the light from the left to the right side of the picture
  std::vector<BoardPatch> covers;
  std::vector<BoardPatch> shadows;
  std::vector<LooseTag> tags;
  double blur_px = 1;     ///< standard deviation, Gaussian, in linear light
  double sharpen = 0;     ///< unsharp mask of 1.4 px in encoded levels
  double noise_8bit = 0;  ///< standard deviation, white, in encoded levels
  std::uint64_t seed = 1;
  RayLattice lattice = kFineRays;
};

/// The scene by ray casting through the exact camera: every pixel that is not plain is the mean of its lattice's rays, each
/// traced from the pixel through the lens (Newton on the distortion) to the bowed paper; then blur in linear light,
/// sRGB encoding, sharpening, noise, rounding to 8 bits. Shares no formula with src/locate.
[[nodiscard]] cv::Mat render_board(const BoardScene& scene);

/// The scene as a photograph with a 35 mm equivalent focal length in its EXIF; 0 for none.
[[nodiscard]] Photo photographed(const BoardScene& scene, double focal_35mm = 0);

/// A camera of `focal_px` in the middle of a picture.
[[nodiscard]] Camera plain_camera(double focal_px, const cv::Size& size);

/// The view from `distance_mm` over the board's point `centre_mm`, tilted by `tilt_rad` about the direction
/// `azimuth_rad` in the board plane, turned by `roll_rad` in the picture. The centre falls on the principal point.
[[nodiscard]] Pose camera_over(const Point2& centre_mm, double distance_mm, double tilt_rad, double azimuth_rad,
                               double roll_rad);

/// Where a nominal board point appears, with print stretch and bow.
[[nodiscard]] Point2 true_pixel(const BoardScene& scene, const Point2& nominal_mm);

}  // namespace glintline::testing
