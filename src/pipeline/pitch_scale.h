#pragma once

#include "base/result.h"
#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/photo.h"
#include "model/setup.h"

namespace glintline {

/// A profile photograph measured without a card.
struct PitchScaled {
  CardPose pose;  ///< stands in for a card's: no saddles, a warning that says so, wide variations
  Measurements measurements;
};

/// Measures a profile photograph that shows no card, by the pitch its chain is known to have: the camera is taken as
/// straight on (within 5 degrees with 95 %), its distance as the one at which the rivets stand a pitch apart.
/// The ground must be of one strong colour, as a card's field is. No pitch is measured: it is what all else rests on.
/// Fails: kBadOption without a known pitch, kNoCutter without a row of rivet heads, and as tracing fails.
[[nodiscard]] Result<PitchScaled> measure_by_pitch(const Photo& photo, const Setup& setup);

}  // namespace glintline
