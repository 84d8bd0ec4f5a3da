#pragma once

#include <cmath>
#include <numbers>

#include "trace/cutter_scene.h"

namespace glintline {

/// The tie strap's outline that shows best across a link's body.
struct StrapOutline {
  double seen = 0;  ///< share, 0 to 1, of its upper edge and of both shoulders by which it comes down beyond its
                    ///< rivets, or of its rear half, less what shows of that by accident
  double over = 0;  ///< height of its upper edge over the rivets, mean, pitches
  double waist = 0;  ///< how much higher it stands over them than between them, half of it, pitches

  /// Height of the upper edge `along` pitches from the rear rivet.
  [[nodiscard]] double upper_edge(double along) const { return over + waist * std::cos(2 * std::numbers::pi * along); }
};

/// A strap lies before a cutter that is seen from its inner side; one seen from outside is bare there. Straps are alike
/// at both ends, but for those that rise ahead of the gullet as bumpers. Tried are outlines of the sizes that straps
/// have; a place of one shows where the picture changes more than it usually does on the body, and square to the
/// outline: lines that cross the steel, or that it mirrors, have no shoulders.
[[nodiscard]] StrapOutline strap_outline(const CutterScene& s);

}  // namespace glintline
