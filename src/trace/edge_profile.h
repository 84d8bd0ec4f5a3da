#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "trace/field_colour.h"

namespace glintline {

/// Light along a short path that crosses the outline from the field inwards, in linear light, split into the field's
/// own colour and what is across it.
struct EdgeProfile {
  std::vector<float> along;   ///< field colour
  std::vector<float> across;  ///< everything else
};

/// Where a profile leaves the field.
struct EdgeCrossing {
  double at = 0;     ///< in samples from the profile's start
  double blur = 0;   ///< standard deviation of the edge's own width, samples; an upper bound of the blur
  double step = 0;   ///< size of the step in units of the field's level
};

/// The outline in a profile: the outermost place where the light leaves the field's level, at half of the first
/// plateau. Rounded rims of steel mirror the field itself: first only the field's colour drops, then the neutral light
/// of the steel rises; both are looked at and the outer one counts. A slow fall of the field's colour alone is the
/// penumbra of a cast shadow and is passed over.
/// in: `expected`, the sample near which the outline was seen coarsely; `blur`, usual blur in samples.
/// fails (nothing): no step of at least a tenth of the field's level within `reach` samples of `expected`.
[[nodiscard]] std::optional<EdgeCrossing> find_edge(const EdgeProfile& profile, double expected, double reach,
                                                    double blur);

}  // namespace glintline
