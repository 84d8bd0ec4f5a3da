#include "trace/edge_profile.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

double middle(std::vector<float> values) {
  const auto m = values.begin() + values.size() / 2;
  std::nth_element(values.begin(), m, values.end());
  return *m;
}

/// Where `signal` first passes `level` between `from` and `to`, linear between samples.
std::optional<double> passes(const std::vector<double>& signal, double level, int from, int to) {
  for (int i = from; i < to; ++i) {
    if (signal[i] < level && signal[i + 1] >= level) return i + (level - signal[i]) / (signal[i + 1] - signal[i]);
  }
  return std::nullopt;
}

/// First local maximum of `signal` that stands at least `least` high, looked for from `from` to `to`; a plateau's start
/// counts: two blur widths without a further rise of a tenth.
std::optional<int> first_plateau(const std::vector<double>& signal, double least, int from, int to, double blur) {
  const int wait = std::max(2, static_cast<int>(std::lround(1.5 * blur)));
  for (int i = from; i <= to; ++i) {
    if (signal[i] < least) continue;
    double ahead = 0;
    for (int k = 1; k <= wait && i + k < static_cast<int>(signal.size()); ++k) ahead = std::max(ahead, signal[i + k]);
    if (ahead <= 1.05 * signal[i]) return i;
  }
  return std::nullopt;
}

std::optional<EdgeCrossing> crossing(const std::vector<double>& signal, int from, int to, double blur) {
  constexpr double kLeastStep = 0.1;
  const auto top = first_plateau(signal, kLeastStep, from, to, blur);
  if (!top) return std::nullopt;
  const double height = signal[*top];
  const auto at = passes(signal, height / 2, std::max(0, from), *top);
  if (!at) return std::nullopt;
  double slope = 1e-9;
  for (int i = std::max(1, from); i <= *top; ++i) slope = std::max(slope, signal[i] - signal[i - 1]);
  return EdgeCrossing{*at, height / (slope * 2.5066), height};
}

}  // namespace

std::optional<EdgeCrossing> find_edge(const EdgeProfile& profile, double expected, double reach, double blur) {
  const int count = static_cast<int>(profile.along.size());
  const int outside_to = static_cast<int>(std::floor(expected - reach));
  const int outside_from = std::max(0, outside_to - static_cast<int>(8 * blur) - 4);
  if (outside_to - outside_from < 4) return std::nullopt;
  const double level =
      middle({profile.along.begin() + outside_from, profile.along.begin() + outside_to});
  const double rest = middle({profile.across.begin() + outside_from, profile.across.begin() + outside_to});
  if (!(level > 0)) return std::nullopt;

  std::vector<double> drop(count);
  std::vector<double> rise(count);
  for (int i = 0; i < count; ++i) {
    drop[i] = 1 - profile.along[i] / level;
    rise[i] = (profile.across[i] - rest) / level;
  }
  const int from = outside_to;
  const int to = std::min(count - 2, static_cast<int>(std::ceil(expected + reach)));
  auto by_drop = crossing(drop, from, to, blur);
  const auto by_rise = crossing(rise, from, to, blur);
  if (by_drop && by_drop->blur > 3 * blur) by_drop.reset();  // a penumbra, not an edge
  if (!by_drop) return by_rise;
  if (!by_rise) return by_drop;
  return by_drop->at < by_rise->at ? by_drop : by_rise;
}

}  // namespace glintline
