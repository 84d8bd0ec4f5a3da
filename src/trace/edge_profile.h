#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "trace/field_colour.h"

namespace glintline {

/// Light along a short path that crosses the outline from the field inwards, in linear light, split into the field's
/// own colour and what is across it.
struct EdgeProfile {
  std::vector<float> along;   ///< field colour
  std::vector<float> across;  ///< everything else
  /// Light of a grey of the same brightness (luma); empty where colour is as fine as brightness.
  std::vector<float> grey;
  double smear = 0;  ///< how far colour is carried out from an edge, samples
};

/// A step in a profile.
struct EdgeCrossing {
  double at = 0;     ///< in samples from the profile's start: half of the step
  double blur = 0;   ///< standard deviation of the step's own width, samples; an upper bound of the blur
  double step = 0;   ///< size of the step in units of the field's level
  double width = 0;  ///< samples between a quarter and three quarters of it; an edge in focus takes 1.35 blurs
};

/// By how much the sine between light and the field's colour must grow for the light to be another's: 0.1 is a fifth of
/// grey light in strong colour, and several times the noise that three samples' mean leaves of a JPEG's chroma.
constexpr double kLeastTint = 0.1;

/// The two ways in which a profile leaves the field.
struct EdgeSigns {
  std::optional<EdgeCrossing> rise;  ///< light that is not the field's appears: bare steel, rust, dirt
  std::optional<EdgeCrossing> drop;  ///< the field's own light falls and stays down until then: steel mirroring the field
  std::optional<EdgeCrossing> slow_fall;  ///< where there is no drop: it falls over a wider stretch than an edge takes
};

/// Looks for the outline in a profile.
///
/// Rounded rims and smooth faces seen at a grazing angle mirror the field itself: there first the field's colour drops,
/// and the neutral light of bare steel rises only where the surface has turned enough. A slow fall of the field's light
/// is the penumbra of a cast shadow and no edge, unless what is known of the outline says that one is there (a rim that
/// is rounded widely mirrors the field ever darker). Nor is a fall that colour alone shows, close before bare steel:
/// files hold colour at half the resolution of brightness, and the field there pales at its own brightness. in:
/// `expected`, the sample near which the outline was seen coarsely; `blur`, usual blur in samples; `strip`, samples
/// that a surface mirroring the field may reach farther out than that.
/// out: steps of at least a tenth (rise) or a fifth (drop) of the field's level within `reach` samples of `expected`.
[[nodiscard]] EdgeSigns find_edge(const EdgeProfile& profile, double expected, double reach, double blur,
                                  double strip = 0);

/// True where what lies between drop and rise is steel by its light: beside the field's own, darkened, it sends light of
/// another colour, over its whole width. A shadow's light keeps the field's colour, and what coarse chroma and the blur
/// carry out from an edge reaches no farther than a few blurs.
[[nodiscard]] bool strip_is_steel(const EdgeProfile& profile, const EdgeSigns& signs, double blur);

}  // namespace glintline
