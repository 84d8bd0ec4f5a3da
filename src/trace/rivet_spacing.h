#pragma once

#include <optional>

#include "model/photo.h"

namespace glintline {

/// The row of rivet heads in a picture of unknown scale.
struct RivetSpacing {
  double px = 0;  ///< between neighbours, mean along the row
  int heads = 0;
};

/// Looks for the row of heads at every scale that a close-up of a chain can have, and keeps the one with the most heads
/// `pitch_mm` apart. Nothing where no four heads stand so: by the pitch alone, fewer settle no scale.
/// Assumes a camera that looks straight on.
[[nodiscard]] std::optional<RivetSpacing> rivet_spacing(const Photo& photo, double pitch_mm);

}  // namespace glintline
