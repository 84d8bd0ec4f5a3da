#pragma once

#include "model/inspection.h"

namespace glintline::testing {

/// An inspection in which every field of every struct is set, no two numbers alike, many without a short decimal.
[[nodiscard]] Inspection full_inspection();

/// Fails the running test for every field in which the two differ; NaN equals NaN, -0 does not equal 0.
void expect_same(const Inspection& a, const Inspection& b);

}  // namespace glintline::testing
