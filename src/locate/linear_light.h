#pragma once

#include <array>
#include <cstdint>

namespace glintline {

/// Relative luminance (0 to 1) of an 8-bit sRGB pixel, in linear light. Blur and shading are linear in it, so that a
/// model edge fits without the shift that the encoding's curve would cause.
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

/// sRGB-encoded level (0 to 1) of a linear level (0 to 1).
[[nodiscard]] double encoded_level(double linear);

}  // namespace glintline
