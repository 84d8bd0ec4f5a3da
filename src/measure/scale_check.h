#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/profile_outlines.h"
#include "model/quantity.h"
#include "model/setup.h"

namespace glintline {

/// The chain's pitch in a profile photograph: half the distance over three neighbouring rivets, the median of all such
/// in the picture. Nothing where no three neighbours are seen.
[[nodiscard]] std::optional<Quantity> measured_pitch(const ProfileOutlines& outlines, const CardPose& pose,
                                                     const Setup& setup);

/// What the measured pitch says of the scale, held against the sheet's pitch, which is never forced on it: nothing
/// where they agree, else a warning that names the likeliest cause (slack chain, wrong sheet, print, stand-off) and
/// what to check.
///
/// A print nobody measured is itself in question, so its own uncertainty does not excuse a disagreement: the rest of
/// the budget decides whether there is one. Causes are weighed by how many of their standard uncertainties each would
/// take to explain it alone.
[[nodiscard]] std::vector<std::string> scale_warnings(const Quantity& pitch, const ProfileOutlines& outlines,
                                                      const CardPose& pose, const Setup& setup);

/// What the user could tell or measure to narrow the lengths of this photograph, each with the share by which their u95
/// would shrink, in steps of 10 %; nothing where no length was measured or nothing would shrink it by that.
[[nodiscard]] std::optional<std::string> narrowing_advice(const std::vector<CutterMeasurement>& cutters,
                                                          const Setup& setup);

}  // namespace glintline
