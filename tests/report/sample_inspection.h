#pragma once

#include "model/inspection.h"

namespace glintline::testing {

/// A value with one line of budget.
[[nodiscard]] Quantity quantity(double value, double u);

/// A profile photograph "bench/c07.jpg" with cutter 7 (right, lower the gauge; marks drawn about (400, 300)) and an
/// unnumbered cutter that lies over the squares. Invented values.
[[nodiscard]] Inspection profile_inspection();

/// A plan photograph "bench/p12.jpg" with cutter 12: r(s), two chips, file.
[[nodiscard]] Inspection plan_inspection();

/// "bench/dark.jpg", refused for too few squares of the card.
[[nodiscard]] Inspection refused_inspection();

}  // namespace glintline::testing
