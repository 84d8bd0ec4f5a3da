#pragma once

#include "model/inspection.h"
#include "report/pixel_canvas.h"

namespace glintline {

inline constexpr Rgb kPaper{0.97, 0.965, 0.95};
inline constexpr Rgb kInk{0.10, 0.11, 0.13};
inline constexpr Rgb kFaintInk{0.36, 0.38, 0.42};
inline constexpr Rgb kPlainWhite{1, 1, 1};
inline constexpr Rgb kNight{0.09, 0.10, 0.12};

/// How a mark looks; chosen to stand out on steel and on a blue field alike. Shape and words tell the same: colour is
/// never the only sign.
[[nodiscard]] Stroke stroke_of(MarkRole role);

/// What a mark stands for, in the legend.
[[nodiscard]] const char* legend_of(MarkRole role);

/// Ground of the decision's banner, and the ink that reads on it.
struct Banner {
  Rgb ground;
  Rgb ink;
};
[[nodiscard]] Banner banner_of(const InspectedCutter& cutter);

/// Rgb of an edge radius: white where sharp, over yellow, to red from 50 µm on; grey where it is not known.
[[nodiscard]] Rgb colour_of_radius(double radius_um);

}  // namespace glintline
