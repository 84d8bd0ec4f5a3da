#pragma once

#include <random>

#include "measure/profile_heights.h"
#include "model/camera_view.h"
#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/profile_outlines.h"

namespace glintline::testing {

/// A cutter built of exactly known rims. Chain frame: origin at the rear rivet, x in the running direction, z away from
/// the bar; heights over the card.
struct KnownCutter {
  double pitch_mm = 9.3;
  double plate_top_mm = 7.1;      ///< z of the top plate at its working corner
  double slope_rad = 0.09;        ///< fall of the top plate towards its rear
  double corner_x_mm = 3.6;
  double length_mm = 8.2;         ///< from the rear end to the working corner
  double rear_lean_rad = 0;       ///< by which the rear end runs back under its top
  double edge_angle_rad = 0.5236; ///< against the plate's rear end, seen from above
  double hook_rad = 1.31;         ///< of the side plate's front, against x
  double drop_mm = 0.62;
  double gauge_x_mm = 10.5;       ///< of the depth gauge's highest place
  double gauge_radius_mm = 2.6;   ///< of its crown
  double gauge_fall_mm = 0;       ///< by how much the gauge's inner rim stands over its outer one
  double shoulder_mm = 0;         ///< radius between top plate and side plate; 0: chisel

  bool outer_face_up = true;
  double outer_height_mm = 5.6;   ///< of the side plate's outer face over the card
  double plate_width_mm = 5.2;    ///< at the working corner
  double taper_rad = 0.0525;      ///< by which each side of the top plate draws in towards the rear
  double side_plate_mm = 1.35;
  double gauge_set_in_mm = 0.5;
  double rivet_height_mm = 5.2;   ///< of the rivet heads' outlines

  /// The heights of its rims, as measure wants them.
  [[nodiscard]] ProfileHeights heights() const;
};

/// How it lies on the card and how the camera looks at it.
struct KnownScene {
  Point2 rear_rivet_mm = {48, 40};  ///< board frame
  double heading_rad = 0;           ///< of the running direction, board frame
  bool up_is_left = true;           ///< "away from the bar" lies to the left of the running direction in the picture
  double sight_rad = 0;             ///< sight angle about the chain, over 0: the camera stands on the bar's far side
  double ahead_mm = 5;              ///< of the rear rivet the camera stands
  double distance_mm = 115;
  double focal_px = 5500;
  double tilt_rad = 0;
  double roll_rad = 0;

  [[nodiscard]] Point2 along() const;
  [[nodiscard]] Point2 up() const;
  [[nodiscard]] CameraView view() const;
  [[nodiscard]] Point2 pixel(const CameraView& view, double x, double z, double height_mm) const;
};

/// The outlines that the camera sees: the outermost of the rims' projections, column by column, with normal noise of
/// `noise_px` square to them.
[[nodiscard]] CutterOutline outline_of(const KnownCutter& cutter, const KnownScene& scene, double noise_px = 0,
                                       unsigned seed = 0);

/// A perfectly known card pose of the scene, without variations.
[[nodiscard]] CardPose pose_of(const KnownScene& scene);

/// The hand by geometry in space: on which side the outer face looks, facing the running direction with the bar below.
[[nodiscard]] Hand hand_of(const KnownCutter& cutter, const KnownScene& scene);

}  // namespace glintline::testing
