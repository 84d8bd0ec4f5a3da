#include "locate/linear_light.h"

#include <cmath>

namespace glintline {

LinearLight::LinearLight() {
  for (int i = 0; i < 256; ++i) {
    const double level = i / 255.0;
    const double linear = level <= 0.04045 ? level / 12.92 : std::pow((level + 0.055) / 1.055, 2.4);
    blue_[i] = static_cast<float>(0.0722 * linear);
    green_[i] = static_cast<float>(0.7152 * linear);
    red_[i] = static_cast<float>(0.2126 * linear);
  }
}

double encoded_level(double linear) {
  if (linear <= 0) return 0;
  return linear <= 0.0031308 ? 12.92 * linear : 1.055 * std::pow(linear, 1 / 2.4) - 0.055;
}

}  // namespace glintline
