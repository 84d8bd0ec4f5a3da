#pragma once

#include <optional>
#include <string>

#include "model/camera.h"
#include "model/card_pose.h"
#include "model/measurement.h"

namespace glintline {

/// A length the user knows, with its standard uncertainty.
struct KnownLength {
  double value_mm = 0;
  double u_mm = 0;
};

/// What a chain's sheet says of its parts, as far as measuring needs it. Everything is optional: absent thicknesses
/// are replaced by wide defaults with their uncertainty in the room that uses them.
struct ChainGeometry {
  std::optional<double> pitch_mm;
  std::optional<KnownLength> top_plate_width;    ///< across the chain, at the edge
  std::optional<KnownLength> side_plate;         ///< thickness of the side plate, and so of the depth gauge
  std::optional<KnownLength> gauge_set_in;       ///< how far the gauge's outer rim stands inside the side plate's outer face at the top plate
  std::optional<KnownLength> chain_width;        ///< over both rivet heads: what lies between card and lens, at the most
  std::optional<bool> chisel;                    ///< false: semi-chisel, rounded corner
};

/// Everything known before a photograph is looked at. A default-constructed Setup is always valid.
struct Setup {
  std::optional<Camera> camera;           ///< for the *stored* picture of size camera_size
  int camera_width = 0;
  int camera_height = 0;
  PrintScale print;
  std::optional<double> card_square_mm;   ///< nominal side of the card's squares; nothing: the card's usual size
  std::optional<KnownLength> stand_off;   ///< profile: of the upper outer face over the card; plan: of the top plates
  std::optional<ViewKind> view;           ///< nothing: told from the picture
  ChainGeometry chain;
};

}  // namespace glintline
