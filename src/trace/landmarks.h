#pragma once

#include <optional>
#include <vector>

#include "math/line_fit.h"
#include "trace/cutter_scene.h"

namespace glintline {

/// The parts of the skyline that matter, as columns.
struct Landmarks {
  int plate_from = 0;
  int plate_to = 0;
  int gullet = 0;
  int gauge = 0;
  std::vector<bool> lumps;  ///< columns over the gauge where something else lies on it
  Line2 plate_line;         ///< coarse, picture pixels
};

/// Finds them on a skyline (topmost body pixel of every column).
/// fails (nothing): nothing over the rear rivet looks like a top plate.
[[nodiscard]] std::optional<Landmarks> find_landmarks(const CutterScene& s, const std::vector<int>& top);

}  // namespace glintline
