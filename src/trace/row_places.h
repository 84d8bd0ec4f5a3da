#pragma once

#include <optional>
#include <vector>

#include "math/geometry.h"

namespace glintline {

/// For each rivet head of a row, where the heads about it say that it stands; mm, in the heads' plane.
///
/// The spacings of a chain alternate (the two rivets of a cutter, then those of its neighbours' links), by half a
/// millimetre at most, so that heads two places apart are as far from each other everywhere. Of all such steps between
/// two heads nearby the one is taken that the most others agree with: a head mistaken for a highlight or a shadow is
/// not among them (Fischler and Bolles 1981, "Random sample consensus").
/// in: `seen`, in order along the row, nothing where a head is missing.
/// out: nothing where fewer than four others agree.
/// assumes: a bow of half a millimetre over a dozen heads at most; of a deeper one the outermost heads stand off.
[[nodiscard]] std::vector<std::optional<Point2>> places_in_row(const std::vector<std::optional<Point2>>& seen);

}  // namespace glintline
