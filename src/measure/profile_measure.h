#pragma once

#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/profile_outlines.h"
#include "model/setup.h"

namespace glintline {

/// Measures the cutters of a profile photograph: gauge drop, length, top slope, hook angle, corner rounding, and the
/// chain's pitch.
///
/// Chain frame: x along the line through this cutter's two rivets in the running direction, z away from the bar, both
/// mm. A sight line that touches an outline is intersected with the plane of each rim that could have made it; as the
/// body lies below all of them, the true height is the least of the heights so found (and likewise along x).
/// Every influence of the budget is moved by its standard uncertainty and the whole measurement repeated
/// (JCGM 100:2008, 5.1.3, note 2); what the outlines' noise adds comes from the fits' covariance.
/// assumes: top plate flat across the chain (its fall is along x), parts parallel to the card.
[[nodiscard]] Measurements measure_profile(const ProfileOutlines& outlines, const CardPose& pose, const Setup& setup);

}  // namespace glintline
