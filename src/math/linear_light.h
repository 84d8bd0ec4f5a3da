#pragma once

#include <array>
#include <cstdint>

namespace glintline {

/// Linear light, 0 to 1, of every 8-bit sRGB code (IEC 61966-2-1, the two-piece curve). Blur and shading are linear in
/// it, so that a model edge fits without the shift that the encoding's curve would cause.
[[nodiscard]] const std::array<float, 256>& linear_light();

/// Linear light, 0 to 1, of a code between the whole ones; values outside 0 to 255 are clipped.
[[nodiscard]] float linear_of(double code);

/// The sRGB code, 0 to 255 and not rounded, of a linear light of 0 to 1; values outside are clipped.
[[nodiscard]] double srgb_code(double linear);

/// Luma, 0 to 255, of the codes of a pixel (ITU-T T.871, the JPEG file interchange format; weights of ITU-R BT.601).
/// JPEG keeps it at full resolution, and most cameras store colour at half of that: an edge between colours is as
/// sharp as the lens drew it in luma alone.
template <typename T>
[[nodiscard]] constexpr double luma(T blue, T green, T red) {
  return 0.114 * blue + 0.587 * green + 0.299 * red;
}

/// Relative luminance (0 to 1) of an 8-bit sRGB pixel, in linear light.
/// Source: IEC 61966-2-1 (decoding curve; luminance weights of ITU-R BT.709).
class LinearLight {
 public:
  LinearLight();

  /// `bgr` points at three bytes, blue first.
  [[nodiscard]] float operator()(const std::uint8_t* bgr) const {
    return blue_[bgr[0]] + green_[bgr[1]] + red_[bgr[2]];
  }

 private:
  std::array<float, 256> blue_;
  std::array<float, 256> green_;
  std::array<float, 256> red_;
};

}  // namespace glintline
