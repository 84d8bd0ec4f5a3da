#pragma once

#include <vector>

#include "model/camera_view.h"
#include "model/profile_outlines.h"

namespace glintline {

/// Heads of one chain are alike, and aligned to each other, to about this much, whatever the alignment's own noise; mm,
/// standard uncertainty of a head's place (by experiment: tests/accuracy).
inline constexpr double kHeadMm = 0.01;

/// The cutters with their rivets where the whole row says they are, square to it; along the row nothing moves.
///
/// The rivets of a taut chain lie on one straight line, and all of them together tell its direction better than two;
/// links of a slack one tilt by as much as their joints' play allows, and then only their own two rivets do. Model for
/// each rivet's distance z from the row: z = a + b x + t + e, e the head's outline (its own uncertainty, at least that
/// with which heads of one chain are alike), t its play, normal of standard deviation tau. Given tau the posterior is
/// that of a linear Gaussian model; tau, anywhere from a few micrometres to a sixth of a millimetre, is averaged over with
/// the weights that the row's residuals give it (Gelman et al., Bayesian Data Analysis, 3rd ed., 5.4 and 14.2).
/// in: `height_mm`, of the heads' outlines over the card.
/// out: each rivet's `u_px` is such that two independent ones make up their line's uncertainty.
/// assumes: a straight part of the chain, parallel to the card.
[[nodiscard]] std::vector<CutterOutline> cutters_on_row(const ProfileOutlines& outlines, const CameraView& view,
                                                        double height_mm);

}  // namespace glintline
