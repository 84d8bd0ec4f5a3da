#pragma once

#include <array>
#include <optional>
#include <vector>

#include "model/profile_outlines.h"
#include "model/quantity.h"
#include "model/setup.h"

namespace glintline {

/// Heights over the card of the rims that can make a cutter's outline in a profile photograph, mm. "Outer" is the
/// side of the side plate's outer face, wherever that looks.
struct ProfileHeights {
  double rivets = 0;       ///< outlines of the rivet heads that are seen
  double plate_outer = 0;  ///< top plate at the side plate
  double plate_inner = 0;  ///< top plate at its inner end
  double gauge_outer = 0;
  double gauge_inner = 0;
  double gauge_fall = 0;  ///< by how much the gauge's inner rim stands higher, away from the bar, than its outer one
  /// Tangent by which each side of the top plate draws in towards the rear: its rims' heights above hold at the corner.
  double taper = 0;
  std::optional<bool> chisel;  ///< the sheet's word: no shoulder, or a rounded one; nothing: the outline tells

  bool operator==(const ProfileHeights&) const = default;
};

/// The heights with one of the lengths they rest on moved by its standard uncertainty.
struct HeightVariation {
  Source source;
  ProfileHeights heights;
};

struct HeightModel {
  ProfileHeights usual;
  std::vector<HeightVariation> variations;  ///< of the same lengths in the same order, whichever face looks up
  /// The gauge filed lower on its inner and on its outer side, each as likely as the other.
  std::array<ProfileHeights, 2> fallen_gauges;
};

/// The set-up with what a chain of this pitch (mm) usually is where the user told nothing: .404 chain (10.26 mm) is
/// built wider than all others and so stands higher over the card.
[[nodiscard]] Setup with_usual_size(const Setup& setup, double pitch_mm);

/// The rims' heights from the set-up and the chain's sheet; where these are silent, from wide defaults with their
/// uncertainty (every figure's source stands beside it in the source file).
[[nodiscard]] HeightModel profile_heights(const Setup& setup, bool outer_face_up);

}  // namespace glintline
