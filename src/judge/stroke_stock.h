#pragma once

#include <vector>

#include "model/filing_plan.h"
#include "model/stroke_count.h"

namespace glintline {

/// 0.05 mm a stroke, half to twice that (95 %): a start for somebody whose filing nobody has measured (from memory, no
/// source).
[[nodiscard]] StrokeStock assumed_stock();

/// What one stroke takes off the next cutter, from counted strokes before and after pictures: mean over the cutters,
/// weighted for what each is worth, with their real differences (random effects). Its u is that of one more cutter, not
/// of the mean. With fewer than four cutters they are taken to differ by a fifth at the least (proposed, no source).
/// Counts without strokes, or with a length that is not finite, are passed over; assumed_stock() where none is left.
[[nodiscard]] StrokeStock learned_stock(const std::vector<StrokeCount>& counts);

/// Strokes that take `bevel_mm` off. The band holds the count with 95 %: the stock per stroke is taken as log-normal,
/// because it is never negative, both sides are added in squares.
[[nodiscard]] CountBand strokes_for(const Quantity& bevel_mm, const StrokeStock& stock);

}  // namespace glintline
