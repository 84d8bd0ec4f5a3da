#include "math/blurred_step.h"

#include <array>
#include <cmath>

namespace glintline {

namespace {

constexpr double kSpan = 6;  ///< beyond it the step is over, to 1e-9
constexpr int kFineness = 128;
constexpr int kEntries = 2 * static_cast<int>(kSpan) * kFineness + 1;

std::array<double, kEntries> tabulated() {
  std::array<double, kEntries> steps{};
  for (int i = 0; i < kEntries; ++i) {
    steps[i] = 0.5 * std::erfc((kSpan - static_cast<double>(i) / kFineness) * M_SQRT1_2);
  }
  return steps;
}

}  // namespace

double blurred_step(double t) {
  if (!(t > -kSpan)) return 0;
  if (t >= kSpan) return 1;
  static const auto steps = tabulated();
  const double at = (t + kSpan) * kFineness;
  const int below = static_cast<int>(at);
  return steps[below] + (at - below) * (steps[below + 1] - steps[below]);
}

}  // namespace glintline
