#include "trace/own_light.h"

#include <algorithm>
#include <cmath>

#include "math/statistics.h"

namespace glintline {

std::optional<double> own_light_begins(const RimLight& light, double px_per_sample) {
  constexpr double kLeastTint = 0.04;  // over the field's: grey light of 4 % of it
  constexpr std::ptrdiff_t kField = 6;
  // Behind the edge's own blur, and before what lies behind a rounding.
  constexpr double kLevelFromPx = 2;
  constexpr double kLevelToPx = 5;
  const std::vector<double> tint = light.tints();
  const auto values = [&](double px) {
    return static_cast<std::ptrdiff_t>(std::lround(px / px_per_sample / RimLight::kStep));
  };
  if (std::ssize(tint) <= kField) return std::nullopt;
  const double field = median(std::vector<double>(tint.begin(), tint.begin() + kField));
  const auto begins = [&](double over) {
    return std::find_if(tint.begin() + kField, tint.end(), [=](double t) { return t - field >= over; });
  };
  const auto first = begins(kLeastTint);
  if (first == tint.begin() + kField || tint.end() - first <= values(kLevelToPx)) return std::nullopt;
  const double level =
      median(std::vector<double>(first + values(kLevelFromPx), first + values(kLevelToPx) + 1)) - field;
  const auto half = begins(level / 2);
  if (half == tint.end() || half == tint.begin() + kField) return std::nullopt;
  const double share = (*half - field - level / 2) / std::max(1e-9, *half - *(half - 1));
  return light.at(static_cast<std::size_t>(half - tint.begin())) - RimLight::kStep * std::clamp(share, 0.0, 1.0);
}

std::vector<Point2> own_light_begins(const CutterScene& s, const OutlineColumns& columns, int stretches, double reach) {
  constexpr int kLeastColumns = 3;
  constexpr int kEnoughColumns = 8;
  std::vector<Point2> places;
  const int length = columns.to - columns.from + 1;
  for (int k = 0; k < stretches; ++k) {
    const int from = columns.from + length * k / stretches;
    const int to = columns.from + length * (k + 1) / stretches - 1;
    const int every = std::max(1, (to - from) / kEnoughColumns);
    const auto some = [&](int x) { return (x - from) % every == 0 ? columns.crossing(x) : std::nullopt; };
    const auto light = light_across(s, {from, to, some}, -reach, reach, kLeastColumns);
    const auto begins = light ? own_light_begins(*light, s.px_per_sample) : std::nullopt;
    const int middle = (from + to) / 2;
    const auto outline = columns.crossing(middle);
    if (begins && outline) places.emplace_back(middle, *outline + *begins);
  }
  return places;
}

}  // namespace glintline
