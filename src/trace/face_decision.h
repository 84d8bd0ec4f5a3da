#pragma once

#include <vector>

#include "model/profile_outlines.h"

namespace glintline {

/// Decides for every cutter whether its outer face is up, from its signs and from its neighbours: hands alternate along
/// a chain (common practice, no source), so neighbours show different faces unless both are clear by themselves.
/// `steps` holds each cutter's place along the chain in pitches.
void decide_faces(std::vector<CutterOutline>& cutters, const std::vector<int>& steps);

}  // namespace glintline
