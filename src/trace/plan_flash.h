#pragma once

#include <optional>
#include <vector>

#include "trace/plan_edge.h"

namespace glintline {

/// The line of light along a dull edge: brighter than the flat behind it and than what lies ahead of it, as narrow as a
/// rounding, and nearly straight from the rounded corner's bend to the edge's inner end. Nothing else beside an edge
/// does all of that, so where it is seen it tells the outline even where flat and ground look alike.
struct FlashLine {
  std::vector<double> line_n_px;            ///< the straight line through it, n at every row
  std::vector<std::optional<double>> n_px;  ///< its brightest place where a row shows it
};

/// fails (nothing): no such line, or in too few of the rows.
[[nodiscard]] std::optional<FlashLine> find_flash(const EdgeStrip& strip, double px_per_mm);

}  // namespace glintline
