#pragma once

#include "base/result.h"
#include "model/card_pose.h"
#include "model/photo.h"
#include "model/plan_outlines.h"

namespace glintline {

/// Finds the top plates that stand in the card's field and traces their outlines, cutting edge and rounding.
///
/// A reduced picture of the field finds slot and plates; everything sub-pixel is taken from the full-size picture
/// along the plates' outlines alone. Linear light throughout.
/// fails: kNoCutter where no top plate is seen, kNotMeasurable where none of those seen can be traced, kBlurred where
/// the edge is too soft to measure. assumes: a card in the field's plane and the top plates kUsualHeightMm (+- some 2
/// mm) over it; this only sets where to look and how the sight line leans.
[[nodiscard]] Result<PlanOutlines> trace_plan(const Photo& photo, const CardPose& pose);

}  // namespace glintline
