#pragma once

#include <optional>
#include <vector>

#include "trace/cutter_scene.h"

namespace glintline {

/// What one profile showed, square-on picture pixels.
struct OutlineSighting {
  std::optional<Point2> rise;
  std::optional<Point2> drop;
  double mirror = 0;  ///< width of the strip that mirrors the field; 0 where there is none to see
  double blur = 0;    ///< samples
};

/// The outline met on the way from outside towards `coarse` in direction `inwards` (a unit axis step), averaged over
/// `half` parallel samples either side. A surface that mirrors the field may reach `strip` samples farther out.
/// fails (nothing): no step near it, or too near the picture's border.
[[nodiscard]] std::optional<OutlineSighting> sight(const CutterScene& s, const Point2& coarse, const Point2& inwards,
                                            int half = 1, double strip = 0);

/// Strips that mirror the field are told from what coarse chroma and sharpening leave at an edge from this width on,
/// photograph's pixels, where the camera looks down on the tops and sees their whole thickness.
constexpr double kLeastMirrorPx = 2.0;
/// Else only bevels mirror widely; rims do so over a pixel or two, and there the bare steel's edge is the surer one.
constexpr double kLeastBevelPx = 5.0;

/// The outline through neighbouring sightings: where a strip that mirrors the field stands before the bare steel over
/// a stretch of them, the strip's outer edge, else the bare steel's. Strips narrower than `least_px` (photograph's
/// pixels) are not looked for.
[[nodiscard]] std::vector<Point2> settled(const CutterScene& s, const std::vector<OutlineSighting>& seen, double least_px);

}  // namespace glintline
