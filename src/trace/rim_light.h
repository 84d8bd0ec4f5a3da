#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "trace/cutter_scene.h"

namespace glintline {

/// Light across an outline, from the field inwards: mean of neighbouring columns laid over each other along it, linear,
/// 0 to 1.
struct RimLight {
  static constexpr double kStep = 0.5;  ///< samples of the square-on picture between values
  double first = 0;                     ///< place of the first value, samples inwards of the outline
  std::vector<double> grey;             ///< brightness (luma)
  std::vector<double> field;            ///< the field's strongest primary
  std::vector<double> other;            ///< across the field's colour

  [[nodiscard]] double at(std::size_t i) const { return first + kStep * static_cast<double>(i); }
  /// The sine between light and the field's colour at every place.
  [[nodiscard]] std::vector<double> tints() const;
};

/// Columns [from, to] of the square-on picture, and where the outline crosses each; nothing where one does not count.
struct OutlineColumns {
  int from = 0;
  int to = 0;
  std::function<std::optional<double>(int)> crossing;
};

/// The columns of a gauge's crest: the smooth curve through places on it, where it does not fall steeply.
/// fails (nothing): too few places.
[[nodiscard]] std::optional<OutlineColumns> crest_columns(const CutterScene& s, const std::vector<Point2>& places);

/// Light from `from` to `to` samples inwards of an outline, the camera's sharpening taken out.
/// fails (nothing): fewer than `least` columns, or too near the picture's border.
[[nodiscard]] std::optional<RimLight> light_across(const CutterScene& s, const OutlineColumns& columns, double from,
                                                   double to, int least);

}  // namespace glintline
