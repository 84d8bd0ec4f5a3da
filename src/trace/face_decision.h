#pragma once

#include <vector>

#include "model/profile_outlines.h"

namespace glintline {

/// Decides for every cutter whether its outer face is up, from its signs and from its neighbours: hands alternate along
/// a chain (common practice, no source), so neighbours show different faces unless one of them is clear by itself.
/// `steps` holds each cutter's place along the chain in pitches.
void decide_faces(std::vector<CutterOutline>& cutters, const std::vector<int>& steps);

}  // namespace glintline
