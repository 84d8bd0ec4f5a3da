#pragma once

#include <vector>

#include "trace/rim_light.h"

namespace glintline {

/// Where light of another colour than the field's begins on the way in from it: shadows and steel that mirrors the
/// field have the field's colour, a face sends grey light of its own up to its rim. The columns of an outline are laid
/// over each other in so many stretches. in: `reach`, samples that are looked at on either side of the outline. out:
/// the place of each stretch that shows one, in order: where half of the tint behind it is reached.
[[nodiscard]] std::vector<Point2> own_light_begins(const CutterScene& s, const OutlineColumns& columns, int stretches,
                                                   double reach);

/// The same across one stretch, samples inwards of the outline. `px_per_sample`: the photograph's pixels. fails
/// (nothing): none begins clear of both ends of what is looked at.
[[nodiscard]] std::optional<double> own_light_begins(const RimLight& light, double px_per_sample);

}  // namespace glintline
