#pragma once

#include <array>
#include <cstdint>

namespace glintline {

/// Linear light, 0 to 1, of every 8-bit sRGB code (IEC 61966-2-1, the two-piece curve).
[[nodiscard]] const std::array<float, 256>& linear_light();

/// Linear light, 0 to 1, of a code between the whole ones; values outside 0 to 255 are clipped.
[[nodiscard]] float linear_of(double code);

/// The sRGB code, 0 to 255 and not rounded, of a linear light of 0 to 1; values outside are clipped.
[[nodiscard]] double srgb_code(double linear);

}  // namespace glintline
