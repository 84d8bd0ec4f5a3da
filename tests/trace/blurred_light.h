#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/core.hpp>

#include "trace/rim_light.h"

namespace glintline::testing {

/// Linear blue, green, red.
inline const cv::Vec3d kBlueField(0.5, 0.06, 0.01);
inline const cv::Vec3d kBareSteel(0.4, 0.4, 0.4);
constexpr double kSceneBlur = 1.25;

/// Light from `first` to `last` samples inwards of an outline over a blue field, of a scene in which it is `at(n)` `n`
/// samples inwards: averaged over a Gaussian of kSceneBlur by small steps.
inline RimLight blurred_light(double first, const std::function<cv::Vec3d(double)>& at, double last = 6) {
  RimLight light;
  light.first = first;
  const cv::Vec3d direction = cv::normalize(kBlueField);
  for (double n = first; n <= last; n += RimLight::kStep) {
    cv::Vec3d sum(0, 0, 0);
    double weights = 0;
    for (double d = -5; d <= 5; d += 0.05) {
      const double weight = std::exp(-0.5 * d * d / (kSceneBlur * kSceneBlur));
      sum += weight * at(n + d);
      weights += weight;
    }
    sum /= weights;
    const double along = sum.dot(direction);
    light.grey.push_back(0.0722 * sum[0] + 0.7152 * sum[1] + 0.2126 * sum[2]);
    light.field.push_back(sum[0]);
    light.other.push_back(std::sqrt(std::max(0.0, sum.dot(sum) - along * along)));
  }
  return light;
}

}  // namespace glintline::testing
