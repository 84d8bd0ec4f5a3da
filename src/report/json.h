#pragma once

#include <string>
#include <vector>

#include "model/inspection.h"

namespace glintline {

/// The inspections as a JSON array (RFC 8259), one object a photograph, in order, indented, with a line end.
///
/// Lengths in mm, radii in µm, angles in degrees, `u95` with k = 2. A quantity that could not be had is null and
/// `why` says why; a number that is not finite is null too. Values are rounded to 0.1 µm, 0.001 degrees and 0.01 µm
/// of radius, far under what any photograph resolves. Bytes of a path that are no UTF-8 come out as U+FFFD.
[[nodiscard]] std::string json_text(const std::vector<Inspection>& inspections);

}  // namespace glintline
