#pragma once

#include <string>

#include "model/recorded_inspection.h"

namespace glintline::testing {

/// An inspection in which every field of every struct is set, no two numbers alike, many without a short decimal.
[[nodiscard]] Inspection full_inspection();

/// A recorded chain of `cutters` cutters, each seen in a photograph of its own, with all optional parts set; no two
/// ids alike have unlike content.
[[nodiscard]] RecordedInspection recorded_chain(const std::string& id, int cutters = 3);

/// Fails the running test for every field in which the two differ; NaN equals NaN, -0 does not equal 0.
void expect_same(const Inspection& a, const Inspection& b);

}  // namespace glintline::testing
