#pragma once

#include <string>
#include <vector>

#include "model/measurement.h"

namespace glintline {

/// What would make an undecided value decidable: the remedies of its budget's largest line, then how to check by hand.
/// in: the value, what it is ("gauge drop"), the view it was taken in.
[[nodiscard]] std::vector<std::string> remedies(const Quantity& value, const std::string& by_hand, ViewKind view);

}  // namespace glintline
