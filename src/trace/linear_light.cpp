#include "trace/linear_light.h"

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

double srgb_code(double linear) {
  const double v = std::clamp(linear, 0.0, 1.0);
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * std::pow(v, 1 / 2.4) - 0.055);
}

}  // namespace glintline
