#pragma once

#include "trace/plan_band.h"
#include "trace/plan_plates.h"

namespace glintline {

/// What a candidate's brightness leaves of its score, 0 to 1: a top plate is one surface. Stripes along the chain that
/// are twice as bright or half as dark as the plate's middle level are straps and the gaps between them.
[[nodiscard]] double one_surface_share(const PlanBand& band, const PlateCandidate& plate);

/// What the light on either side of a candidate's cutting edge leaves of its score, 0.6 to 1: an edge parts the plate
/// from something else, row by row. A wear mark engraved parallel to it is a dark line in one surface, and what lies
/// behind a line across the links is itself uneven along it.
[[nodiscard]] double parting_share(const PlanBand& band, const PlateCandidate& plate);

}  // namespace glintline
