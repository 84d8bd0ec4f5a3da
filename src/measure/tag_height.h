#pragma once

#include <optional>

#include "model/card_pose.h"
#include "model/setup.h"

namespace glintline {

/// How high over the card a number tag of known size lies, by how much larger than on the card it looks:
///
///   h = E (1 - s / s0),   s0 its side if it lay on the card, E the camera's height over it
///
/// with the mean of its longer pair of opposite sides, which a top plate's fall does not foreshorten. The print's
/// stretch is the card's own, and cancels. In: side_mm, nominal, of the marker's black border. Assumes corners refined
/// at full resolution.
[[nodiscard]] KnownLength height_of_tag(const NumberTag& tag, const CardPose& pose, double side_mm);

/// The height of the top plates, where a tag was laid on one: of the tag that stands out of the card most clearly, by
/// more than 1 mm and three standard uncertainties. Nothing where all tags lie on the card.
[[nodiscard]] std::optional<KnownLength> height_of_plates(const CardPose& pose, double side_mm);

}  // namespace glintline
