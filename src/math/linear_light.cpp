#include "math/linear_light.h"

#include <algorithm>
#include <cmath>

namespace glintline {

const std::array<float, 256>& linear_light() {
  static const std::array<float, 256> table = [] {
    std::array<float, 256> values{};
    for (int code = 0; code < 256; ++code) {
      const double s = code / 255.0;
      values[code] = static_cast<float>(s <= 0.04045 ? s / 12.92 : std::pow((s + 0.055) / 1.055, 2.4));
    }
    return values;
  }();
  return table;
}

float linear_of(double code) {
  const auto& table = linear_light();
  const double c = std::clamp(code, 0.0, 255.0);
  const int below = std::min(254, static_cast<int>(c));
  const auto share = static_cast<float>(c - below);
  return table[below] * (1 - share) + table[below + 1] * share;
}

double srgb_code(double linear) {
  const double v = std::clamp(linear, 0.0, 1.0);
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055);
}

LinearLight::LinearLight() {
  const auto& light = linear_light();
  for (int code = 0; code < 256; ++code) {
    blue_[code] = 0.0722F * light[code];
    green_[code] = 0.7152F * light[code];
    red_[code] = 0.2126F * light[code];
  }
}

}  // namespace glintline
