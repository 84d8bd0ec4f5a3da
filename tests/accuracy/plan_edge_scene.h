#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "trace/plan_edge.h"

namespace glintline::testing {

/// A gap broken out of the edge: a half ellipse.
struct SceneGap {
  double at_mm = 0;
  double depth_mm = 0;
  double width_mm = 0;
};

/// Light around the edge.
enum class SceneLight {
  kWindow,    ///< a broad window ahead of the edge
  kLamp,      ///< a small lamp ahead of the edge
  kBehind,    ///< a lamp behind the plate: the rounding stays dark
  kOvercast,  ///< even sky
};

/// A cutting edge looked at from above, drawn by ray casting: a flat top, a circular cylinder that touches it, nothing
/// below but a floor far down. Rays are reflected as vectors at normals that grinding and roughness disturb; the
/// surroundings are a function of direction. Everything is cast in space (mm), nothing is drawn along the edge.
struct EdgeScene {
  double px_per_mm = 75;
  double edge_mm = 6;
  double angle_rad = 0.52;       ///< of the edge against the square to the chain
  double radius_um = 60;         ///< of the rounding
  double lean_rad = 0.12;        ///< sight line against the flat's normal, towards the front
  SceneLight light = SceneLight::kWindow;
  double lamp_half_deg = 8;      ///< half of the angle that the small lamp fills
  double lamp_height_deg = 40;   ///< elevation of its middle
  double exposure = 1;           ///< 1: lights are whiter than the picture can hold, as the usual flash is; 0.5: they fit
  bool slip = true;              ///< the floor is a slip of the field's colour; else dark metal with bright links
  double slip_gap_mm = 0;        ///< the slip's depth under the edge, whose plate hides a part of its sky; 0: far down
  double scratches = 0.03;       ///< spread of the normals across grinding marks, rad
  double roughness_um = 0;       ///< waviness of the outline, standard deviation
  double dirt = 0;               ///< share of the flat under flecks
  double blur_px = 0.9;
  double noise = 1.5;            ///< 8-bit levels at half grey
  std::vector<SceneGap> gaps;
  std::uint64_t seed = 1;
};

/// The picture and the frame in which its edge lies.
struct EdgePicture {
  cv::Mat bgr;
  EdgeFrame frame;
};

[[nodiscard]] EdgePicture cast_edge(const EdgeScene& scene);

}  // namespace glintline::testing
