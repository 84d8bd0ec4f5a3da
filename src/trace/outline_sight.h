#pragma once

#include <optional>
#include <vector>

#include "trace/cutter_scene.h"

namespace glintline {

/// What one profile showed, square-on picture pixels.
struct OutlineSighting {
  std::optional<Point2> rise;
  std::optional<Point2> drop;
  std::optional<Point2> slow_fall;  ///< a wide fall of the field's light, where there is no drop and no rise
  double mirror = 0;  ///< width of the strip that mirrors the field; 0 where there is none to see
  /// The strip from `drop` to `rise` sends light of its own along with the field's: it is steel. A shadow only takes
  /// light away.
  bool steel_strip = false;
  /// Close before `rise` the field's light falls over a wider stretch than an edge in focus takes: the steel's shaded
  /// foot.
  bool soft_drop = false;
  double blur = 0;    ///< samples
};

/// How far from where it was seen coarsely an outline is looked for, samples.
[[nodiscard]] double usual_reach(const CutterScene& s);

/// The outline met on the way from outside towards `coarse` in direction `inwards` (a unit axis step), averaged over
/// `half` parallel samples either side. A surface that mirrors the field may reach `strip` samples farther out, and one
/// that sends light of its own along with it `tinted` samples.
/// fails (nothing): no step near it, or too near the picture's border.
[[nodiscard]] std::optional<OutlineSighting> sight(const CutterScene& s, const Point2& coarse, const Point2& inwards,
                                            int half = 1, double strip = 0, double tinted = 0);

/// Strips that mirror the field are told from what coarse chroma and sharpening leave at an edge from this width on,
/// photograph's pixels, where the camera looks down on the tops and sees their whole thickness.
constexpr double kLeastMirrorPx = 2.0;
/// Else only bevels mirror widely; rims do so over a pixel or two, and there the bare steel's edge is the surer one.
constexpr double kLeastBevelPx = 5.0;

/// What strips that mirror the field are looked for in front of bare steel.
struct MirrorStrip {
  double least_px = kLeastBevelPx;  ///< narrower ones are not; photograph's pixels
  /// Samples: where a good share of the sightings show one at least so wide, it is a top seen over its whole width, and
  /// bare steel behind it is its near rim. 0: none is expected.
  double whole_top = 0;
};

/// The least share of a usual top's expected width that counts as a top seen over its whole width: plates are 4 to 6.5 mm
/// wide (from memory), and rims' rounding and tapers take some of that.
constexpr double kLeastTopShare = 0.45;

/// The outline through neighbouring sightings: where a strip that mirrors the field stands before the bare steel over
/// a stretch of them, wide enough to be no trace of the edge itself or known for steel by its light, the strip's outer
/// edge, else the bare steel's.
[[nodiscard]] std::vector<Point2> settled(const CutterScene& s, const std::vector<OutlineSighting>& seen,
                                          const MirrorStrip& strip);

}  // namespace glintline
