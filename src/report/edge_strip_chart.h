#pragma once

#include "model/measurement.h"
#include "report/pixel_canvas.h"

namespace glintline {

/// True where a chart of the edge would show something: a radius or a recession at two places at least.
[[nodiscard]] bool has_edge_strip_chart(const CutterMeasurement& cutter);

/// Radius (upwards) and recession (downwards) along the cutting edge, the working corner on the left; chips shaded.
/// Where the radius is not known the upper half says so.
void draw_edge_strip_chart(PixelCanvas& canvas, const Area& box, const CutterMeasurement& cutter);

}  // namespace glintline
