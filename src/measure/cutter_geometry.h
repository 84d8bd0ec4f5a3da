#pragma once

#include <optional>

#include "measure/corner_rounding.h"
#include "measure/profile_heights.h"
#include "model/camera_view.h"
#include "model/profile_outlines.h"

namespace glintline {

/// What one cutter's outlines give under one assumption of view and heights. Chain frame, mm and rad.
struct CutterGeometry {
  double rivet_distance = 0;
  double plate_high = 0;        ///< z of the top plate's highest point
  double plate_high_x = 0;
  double gauge_high = 0;        ///< z of the depth gauge's highest point
  double gauge_high_x = 0;
  double slope = 0;             ///< fall of the top plate towards its rear
  std::optional<double> corner_x;  ///< working corner
  std::optional<double> corner_z;
  std::optional<double> rear_x;    ///< rear end of the top plate
  double chance_of_shoulder = 0;   ///< that the top ends in a rounded shoulder (semi-chisel) instead of a rim
  double shoulder_mm = 0;          ///< the shoulder's radius to be expected: 0 where there is none for certain
  double beyond_top = 0;           ///< by how much the top's rim away from the camera is seen over its near one
  std::optional<CornerShape> tip;  ///< seen from outside, chisel corner
  std::optional<double> hook;      ///< angle of the chord from 0.2 to 1.0 mm under the working corner

  /// Drop between the near rims of top and gauge, where steel's own light begins: of the outer side only. What mirrors
  /// the field before them, and how wide the plates are, is none of it.
  std::optional<double> own_light_drop;

  double u_plate = 0;           ///< standard uncertainties from the outlines' noise alone
  double u_gauge = 0;
  double u_slope = 0;
  double u_rivet_line = 0;      ///< of the rivet line's direction, rad
  double u_corner_x = 0;
  double u_corner_z = 0;
  double u_rear_x = 0;
  double u_hook = 0;

  [[nodiscard]] double drop() const { return plate_high - gauge_high; }
};

/// A top plate starts behind the rear rivet, or no farther ahead of it than so much of the rivets' distance.
inline constexpr double kMostRearAhead = 0.1;

/// A sight line in the chain frame: where it meets planes parallel to the card, (x, z) in mm.
struct SightLine {
  Point2 foot;    ///< in the card's own plane
  Point2 per_mm;  ///< change for each mm over it

  [[nodiscard]] Point2 at(double height_mm) const { return foot + height_mm * per_mm; }
};

/// Points of the chain frame as a function of the sight line, for one view.
class ChainFrame {
 public:
  /// Frame of the cutter: origin at the rear rivet. `heights.rivets` is the plane the rivets' outlines lie in.
  ChainFrame(const CameraView& view, const CutterOutline& cutter, const ProfileHeights& heights);

  [[nodiscard]] SightLine sight_line(const Point2& px) const;
  /// (x, z) where the sight line through `px` meets the plane at `height_mm`.
  [[nodiscard]] Point2 at(const Point2& px, double height_mm) const { return sight_line(px).at(height_mm); }
  /// Pixel of a place of the chain frame at a height.
  [[nodiscard]] Point2 pixel(const Point2& x_z, double height_mm) const;
  [[nodiscard]] double rivet_distance() const { return rivet_distance_; }
  /// True where the camera looks at the chain's right side, looking in the running direction.
  [[nodiscard]] bool sees_right_side() const { return along_.x() * up_.y() - along_.y() * up_.x() < 0; }

 private:
  CameraView view_;
  Point2 origin_;
  Point2 along_;
  Point2 up_;
  double rivet_distance_;
};

/// fails (nothing): too few points of top plate or gauge agree on a shape.
[[nodiscard]] std::optional<CutterGeometry> cutter_geometry(const CameraView& view, const CutterOutline& cutter,
                                                            const ProfileHeights& heights);

}  // namespace glintline
