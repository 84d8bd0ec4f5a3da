#pragma once

#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/plan_outlines.h"
#include "model/setup.h"

namespace glintline {

/// Measures the cutters of a plan photograph: length, edge angle, rounding along the edge, chips.
///
/// Every point of an outline is taken along its sight line to the top plate's own plane: at the set-up's stand-off
/// over the card at the edge (default 2.5 +- 0.6 mm) and falling to the rear by the top slope (default 5 degrees,
/// within 3). Chain frame: x in the running direction, which is the bisector of the two side edges unless links in the
/// slot tell it better; y square to it, parallel to the card. The whole measurement is repeated under every influence
/// moved by its standard uncertainty (JCGM 100:2008, 5.1.3, note 2); what the outlines' noise adds comes from the fits'
/// covariance.
[[nodiscard]] Measurements measure_plan(const PlanOutlines& outlines, const CardPose& pose, const Setup& setup);

}  // namespace glintline
