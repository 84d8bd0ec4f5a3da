#include "trace/plan_shoulder.h"

#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "math/statistics.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

/// Logarithm of the usual light at a distance from the side.
std::optional<double> level_at(const cv::Mat& bgr, const OuterSide& side, double inside_mm) {
  constexpr double kFrom = 0.12;  // shares of the side: clear of the rear rim
  constexpr double kTo = 0.62;    // and of the slanting edge
  constexpr int kSamples = 60;
  constexpr float kBlack = 0.003F;  // what a camera's black still holds
  constexpr std::size_t kLeast = kSamples / 2;
  std::vector<double> levels;
  for (int k = 0; k < kSamples; ++k) {
    const double share = kFrom + (kTo - kFrom) * k / (kSamples - 1);
    const Point2 at = side.rear + share * (side.front - side.rear) + inside_mm * side.px_per_mm * side.inwards;
    if (inside(bgr, at.x(), at.y())) levels.push_back(linear_at(bgr, at.x(), at.y())[1] + kBlack);
  }
  if (levels.size() < kLeast) return std::nullopt;
  return std::log(median(std::move(levels)));
}

}  // namespace

double shoulder_change(const cv::Mat& bgr, const OuterSide& side) {
  // Each the middle of three places, beyond a chisel's rim and within the smallest bend that is usual.
  constexpr std::array<double, 4> kPlacesMm = {0.35, 0.55, 0.75, 0.95};
  constexpr double kAsideMm = 0.05;
  std::array<double, 4> level{};
  for (std::size_t k = 0; k < level.size(); ++k) {
    std::vector<double> near;
    for (const double aside : {-kAsideMm, 0.0, kAsideMm}) {
      if (const auto one = level_at(bgr, side, kPlacesMm[k] + aside)) near.push_back(*one);
    }
    if (near.empty()) return 0;
    level[k] = median(std::move(near));
  }
  return std::abs(level[0] - level[2]) + std::abs(level[1] - level[3]);
}

}  // namespace glintline
