#pragma once

#include "base/result.h"
#include "model/card_pose.h"
#include "model/photo.h"
#include "model/profile_outlines.h"

namespace glintline {

/// Traces rivets and cutters in a photograph that looks at the chain from the side. Pixels are not interpreted after
/// this: what follows works on the outlines.
/// in: `height_mm`, about how high the chain's upper side lies over the card: 5 on the bench (DESIGN: 5 to 6 mm), the
/// set-up's stand-off on the bar.
/// fails: kWrongCard (no strong colour in the field), kNoCutter (no rivets, or no cutter over the field),
/// kNotMeasurable (a cutter from the side, but no top plate told from the field), kBlurred.
[[nodiscard]] Result<ProfileOutlines> trace_profile(const Photo& photo, const CardPose& pose, double height_mm = 5);

}  // namespace glintline
