#pragma once

#include <optional>
#include <vector>

#include "trace/rim_light.h"

namespace glintline {

/// How much of a gauge's or a plate's top is seen over its near rim, samples of the square-on picture.
struct SeenTop {
  double width = 0;
  double u = 0;  ///< standard uncertainty
};

/// Blurs of the light, samples.
struct RimBlur {
  double sigma = 1;   ///< standard deviation, known to about 15 %
  double colour = 0;  ///< how much wider colour is blurred, as files hold it at half the resolution: root of the
                      ///< difference of squares
};

/// Chance that the bare steel at an outline begins at the top's near rim, before which lies a top that looks much like
/// the field: a smooth one seen at a few degrees mirrors it. Else bare steel begins at the far rim, as a rough or dirty
/// top sends light of its own. A top hardly wider than the blur is not seen as a strip; yet it changes the light's
/// course.
///
/// Bayesian: place, width and blur on a grid, levels of light integrated out (normal priors; Gelman et al., Bayesian
/// Data Analysis, 3rd ed., 14.8). in: at least a dozen values, and of a top many blurs wide its width inwards too: a
/// far rim is told by the near one behind it. out: between 0.05 and 0.95, as steel has more ways to look than two.
[[nodiscard]] double chance_of_near_rim(const RimLight& light, const SeenTop& top, const RimBlur& blur);

/// Light across the crest of a gauge, `from` to `to` samples inwards of the smooth curve through the places where bare
/// steel begins, `bare`. fails (nothing): too few of them, or too near the picture's border.
[[nodiscard]] std::optional<RimLight> crest_light(const CutterScene& s, const std::vector<Point2>& bare, double from,
                                                  double to);

}  // namespace glintline
