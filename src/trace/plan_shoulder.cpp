#include "trace/plan_shoulder.h"

#include <algorithm>
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

/// Usual levels every `kLevelStepMm` inwards of a side; nothing where the picture does not hold them all.
constexpr double kLevelStepMm = 0.025;
std::vector<double> levels_from(const cv::Mat& bgr, const OuterSide& side, double from_mm, double to_mm) {
  std::vector<double> out;
  for (double inside_mm = from_mm; inside_mm < to_mm; inside_mm += kLevelStepMm) {
    const auto level = level_at(bgr, side, inside_mm);
    if (!level) return {};
    out.push_back(*level);
  }
  return out;
}

double range_of(const std::vector<double>& values, std::size_t from, std::size_t to) {
  const auto [low, high] = std::minmax_element(values.begin() + static_cast<std::ptrdiff_t>(from),
                                               values.begin() + static_cast<std::ptrdiff_t>(to));
  return *high - *low;
}

}  // namespace

double side_face_width(const cv::Mat& bgr, const OuterSide& side) {
  constexpr double kFromMm = 0.075;  // clear of the side's own blur
  constexpr double kToMm = 1.0;
  constexpr std::size_t kHalfStep = 3;  // levels that a step in focus takes, and the line that marks it
  constexpr std::size_t kBehind = 12;   // levels of the top behind it
  constexpr double kNarrowestMm = 0.28;  // a step's middle may be told a level off
  constexpr double kLeastStep = 0.5;
  constexpr double kEven = 0.25;
  const std::vector<double> levels = levels_from(bgr, side, kFromMm, kToMm);
  double best = 0;
  double width = 0;
  for (std::size_t k = kHalfStep + 1; k + kHalfStep + kBehind < levels.size(); ++k) {
    const double at = kFromMm + static_cast<double>(k) * kLevelStepMm;
    const double step = std::abs(levels[k + kHalfStep] - levels[k - kHalfStep]);
    if (at < kNarrowestMm || step < std::max(kLeastStep, best)) continue;
    if (range_of(levels, 0, k - kHalfStep + 1) > kEven) continue;
    if (range_of(levels, k + kHalfStep, k + kHalfStep + kBehind) > kEven) continue;
    best = step;
    width = at;
  }
  return width;
}

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
