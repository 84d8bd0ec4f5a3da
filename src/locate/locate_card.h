#pragma once

#include "base/result.h"
#include "model/card_pose.h"
#include "model/photo.h"
#include "model/setup.h"

namespace glintline {

/// Largest angle between the optical axis and the card's normal that is measured through.
inline constexpr double kLargestTiltRad = 20 * 3.14159265358979323846 / 180;
/// Fewest saddles a pose is accepted from.
inline constexpr int kNeededSaddles = 24;

/// Where the card lies in a photograph and through which camera it is seen, with the uncertainty as variations.
///
/// Markers say which square is where, saddles (crossings of the squares' edges) measure; a Bayesian fit finds pose,
/// focal length, principal point, distortion, bow and print scale together from them and from what is known before
/// (card_fit.h, camera_prior.h). The two mirror poses of a plane are both followed; where the picture cannot tell them
/// apart their difference joins the variations and a warning says so.
/// Fails: kNoCard, kWrongCard, kCardHidden, kTilted; kNotMeasurable where the card's points do not lie on a card.
[[nodiscard]] Result<CardPose> locate_card(const Photo& photo, const Setup& setup);

}  // namespace glintline
