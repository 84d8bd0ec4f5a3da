#pragma once

#include <optional>
#include <string>

#include "model/card_pose.h"
#include "model/profile_outlines.h"
#include "model/setup.h"

namespace glintline {

/// The sight angle about the chain at a cutter's top plate: between the sight line and the card's normal, in the plane
/// square to the chain. Positive where the camera stands beyond the top plates, negative on the bar's side.
/// In: height of the top plate over the card, mm. Nothing where no top plate was traced.
[[nodiscard]] std::optional<double> sight_about_chain(const CutterOutline& cutter, const CardPose& pose,
                                                      double height_mm);

/// Where to move the camera if a cutter is seen by more than 4 degrees about the chain (DESIGN: up to there 0.3 mm of
/// unknown thickness cost 0.02 mm of drop) and the sheet does not tell the top plate's width, which else decides the
/// rim that makes the outline. Nothing where that is not so.
[[nodiscard]] std::optional<std::string> sight_advice(const ProfileOutlines& outlines, const CardPose& pose,
                                                      const Setup& setup);

}  // namespace glintline
