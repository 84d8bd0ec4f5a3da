#include "trace/edge_profile.h"

#include <algorithm>
#include <cmath>

#include "math/blurred_step.h"

namespace glintline {

namespace {

double middle(std::vector<float> values) {
  const auto m = values.begin() + values.size() / 2;
  std::nth_element(values.begin(), m, values.end());
  return *m;
}

/// Samples between a quarter and three quarters of the step that ends at `top` and has passed its half at `half`.
double quartile_width(const std::vector<double>& signal, std::ptrdiff_t half, std::ptrdiff_t top) {
  auto inner = half;
  while (inner < top && signal[inner] < 0.75 * signal[top]) ++inner;
  auto outer = half - 1;
  while (outer > 0 && signal[outer] > 0.25 * signal[top]) --outer;
  return static_cast<double>(inner - outer - 1);
}

/// The step that leads up to the highest place of `signal` in [from, to]: followed outwards from there to half of its
/// height. A single profile's noise makes small plateaus on the way, which the first one would be taken in by.
std::optional<EdgeCrossing> crossing(const std::vector<double>& signal, double least, int from, int to) {
  const auto top = std::max_element(signal.begin() + from, signal.begin() + to + 1) - signal.begin();
  const double height = signal[top];
  if (!(height >= least)) return std::nullopt;
  auto i = top;
  while (i > from && signal[i - 1] >= height / 2) --i;
  if (i <= from) return std::nullopt;
  double slope = 1e-9;
  for (auto k = std::max<std::ptrdiff_t>(1, i - 3); k <= std::min(top, i + 3); ++k) {
    slope = std::max(slope, signal[k] - signal[k - 1]);
  }
  const double at = i - 1 + (height / 2 - signal[i - 1]) / (signal[i] - signal[i - 1]);
  return EdgeCrossing{at, height / (slope * 2.5066), height, quartile_width(signal, i, top)};
}

/// The outer one's least squares height of two blurred steps, and what both leave over; negative heights count as
/// misfit.
struct TwoSteps {
  double outer = 0;
  double misfit = 1e300;
};

/// Fits two steps to samples [from, to] of a rise. The inner one is set and then tried with many outer ones.
class StepFit {
 public:
  StepFit(const std::vector<double>& rise, int from, int to, double blur) : rise_(rise), from_(from), blur_(blur) {
    for (int i = from; i <= to; ++i) yy_ += rise[i] * rise[i];
    inner_.resize(static_cast<std::size_t>(std::max(0, to - from + 1)));
  }

  void set_inner(double at) {
    bb_ = by_ = 0;
    for (std::size_t k = 0; k < inner_.size(); ++k) {
      const double b = shape(k, at);
      inner_[k] = b;
      bb_ += b * b;
      by_ += b * sample(k);
    }
  }

  [[nodiscard]] TwoSteps with_outer(double at) const {
    double aa = 0, ab = 0, ay = 0;
    for (std::size_t k = 0; k < inner_.size(); ++k) {
      const double a = shape(k, at);
      aa += a * a;
      ab += a * inner_[k];
      ay += a * sample(k);
    }
    const double det = aa * bb_ - ab * ab;
    TwoSteps s;
    double inner = bb_ > 0 ? by_ / bb_ : 0;
    const double outer = det > 1e-9 ? (ay * bb_ - by_ * ab) / det : 0;
    if (det > 1e-9 && !(outer < 0)) {
      s.outer = outer;
      inner = (by_ * aa - ay * ab) / det;
    }
    s.misfit = yy_ - s.outer * ay - inner * by_;
    return s;
  }

 private:
  [[nodiscard]] double sample(std::size_t k) const { return rise_[static_cast<std::size_t>(from_) + k]; }
  [[nodiscard]] double shape(std::size_t k, double at) const {
    return blurred_step((from_ + static_cast<int>(k) - at) / blur_);
  }

  const std::vector<double>& rise_;
  int from_;
  double blur_;
  double yy_ = 0;
  std::vector<double> inner_;  ///< its shape
  double bb_ = 0;
  double by_ = 0;
};

/// The outer edge of steel that brightens inwards in two steps: a rim's dim outer share, then its bright one. Taking
/// half of the whole rise would put the edge at the second. `whole` is the crossing of the whole rise.
EdgeCrossing outer_step(const std::vector<double>& rise, const EdgeCrossing& whole, double blur) {
  constexpr double kLeast = 0.08;  // of the field's level: over JPEG's chroma noise
  const int from = std::max(0, static_cast<int>(whole.at - 9 * blur));
  const int to = std::min(static_cast<int>(rise.size()) - 1, static_cast<int>(std::lround(whole.at + 0.5 * blur)));
  StepFit fit(rise, from, to, blur);
  TwoSteps best;
  double best_at = whole.at;
  for (double inner = whole.at - 0.5 * blur; inner <= whole.at + 0.75 * blur; inner += 0.25 * blur) {
    fit.set_inner(inner);
    for (double outer = inner - 7 * blur; outer <= inner - 1.25 * blur; outer += 0.5 * blur) {
      const TwoSteps tried = fit.with_outer(outer);
      if (tried.misfit < best.misfit) {
        best = tried;
        best_at = tried.outer >= kLeast ? outer : inner;
      }
    }
  }
  if (best.outer < kLeast) return whole;
  return {best_at, whole.blur, best.outer, whole.width};
}

/// Sine between the light of a sample and the field's colour.
float tint_at(const EdgeProfile& profile, int i) {
  return profile.across[i] / std::max(1e-4F, std::hypot(profile.along[i], profile.across[i]));
}

/// Median of it between two places; 0 where no sample lies there.
double tint_between(const EdgeProfile& profile, double from, double to) {
  std::vector<float> sines;
  const int first = std::max(0, static_cast<int>(std::ceil(from)));
  const int last = std::min(static_cast<int>(profile.along.size()) - 1, static_cast<int>(to));
  for (int i = first; i <= last; ++i) sines.push_back(tint_at(profile, i));
  return sines.empty() ? 0.0 : middle(std::move(sines));
}

/// True where the drop holds, to about half, from its edge until `until`, or what comes back is not the field's light
/// alone: a rim's dark line before a brighter top.
bool holds(const EdgeProfile& profile, const std::vector<double>& drop, const EdgeCrossing& edge, double until) {
  const double field = tint_between(profile, 0, edge.at - 3 * edge.blur);
  for (int i = static_cast<int>(std::ceil(edge.at)) + 1; i < until && i < static_cast<int>(drop.size()); ++i) {
    if (drop[i] < 0.45 * edge.step && tint_at(profile, i) < field + kLeastTint) return false;
  }
  return true;
}

/// The open field before an edge: samples [from, to), medians.
struct Ground {
  int from = 0;
  int to = 0;
  double level = 0;  ///< light of the field's colour
  double rest = 0;   ///< other light
};

/// fails (nothing): too few samples, or no light.
std::optional<Ground> ground_before(const EdgeProfile& profile, int to, double blur) {
  Ground g{std::max(0, to - static_cast<int>(8 * blur) - 4), to, 0, 0};
  if (g.to - g.from < 4) return std::nullopt;
  g.level = middle({profile.along.begin() + g.from, profile.along.begin() + g.to});
  g.rest = middle({profile.across.begin() + g.from, profile.across.begin() + g.to});
  if (!(g.level > 0)) return std::nullopt;
  return g;
}

/// How far the field's light has fallen at every sample, a share of its level.
std::vector<double> falls(const EdgeProfile& profile, const Ground& ground) {
  std::vector<double> drop;
  drop.reserve(profile.along.size());
  for (const float along : profile.along) drop.push_back(1 - along / ground.level);
  return drop;
}

/// The same where brightness falls as well. At its own brightness the field only pales: its colour's light falls,
/// though nothing darker stands there.
std::vector<double> falls_in_brightness(const EdgeProfile& profile, const Ground& ground) {
  std::vector<double> drop = falls(profile, ground);
  const double grey = middle({profile.grey.begin() + ground.from, profile.grey.begin() + ground.to});
  for (std::size_t i = 0; i < drop.size(); ++i) drop[i] = std::min(drop[i], 1 - profile.grey[i] / grey);
  return drop;
}

/// Adds the fall of the field's light before bare steel, or before `to` where there is none.
void add_drop(EdgeSigns& signs, const EdgeProfile& profile, const Ground& ground, int to, double blur) {
  constexpr double kLeastDrop = 0.2;
  const auto& rise = signs.rise;
  const int until = rise ? std::min(to, static_cast<int>(std::ceil(rise->at))) : to;
  if (until <= ground.to) return;
  std::vector<double> fallen = falls(profile, ground);
  auto drop = crossing(fallen, kLeastDrop, ground.to, until);
  if (drop && rise && !profile.grey.empty() && rise->at - drop->at < profile.smear) {
    fallen = falls_in_brightness(profile, ground);
    drop = crossing(fallen, kLeastDrop, ground.to, until);
  }
  // Bright steel sends the field's colour back along with all others, so that the blurred rise fills the drop up again
  // before its own middle.
  const double filled = rise ? rise->at - 1.5 * std::max(blur, rise->blur) : to;
  if (!drop || !holds(profile, fallen, *drop, filled)) return;
  (drop->blur > 2.2 * blur ? signs.slow_fall : signs.drop) = drop;
}

}  // namespace

EdgeSigns find_edge(const EdgeProfile& profile, double expected, double reach, double blur, double strip) {
  constexpr double kLeastRise = 0.1;
  const int count = static_cast<int>(profile.along.size());
  const int rise_from = static_cast<int>(std::floor(expected - reach));
  const auto ground = ground_before(profile, static_cast<int>(std::floor(expected - reach - strip)), blur);
  if (!ground) return {};
  std::vector<double> rise;
  rise.reserve(profile.across.size());
  for (const float across : profile.across) rise.push_back((across - ground->rest) / ground->level);
  const int to = std::min(count - 2, static_cast<int>(std::ceil(expected + reach)));
  EdgeSigns signs;
  signs.rise = crossing(rise, kLeastRise, rise_from, to);
  if (signs.rise) signs.rise = outer_step(rise, *signs.rise, std::min(blur, signs.rise->blur));
  add_drop(signs, profile, *ground, to, blur);
  return signs;
}

bool strip_is_steel(const EdgeProfile& profile, const EdgeSigns& signs, double blur) {
  constexpr double kLeastWidth = 5;    // blurs
  constexpr double kCarriedOut = 2.5;  // blurs
  if (!signs.rise || !signs.drop || signs.rise->at - signs.drop->at < kLeastWidth * blur) return false;
  const double field = tint_between(profile, signs.drop->at - 8 * blur, signs.drop->at - 2 * blur);
  return tint_between(profile, signs.drop->at + blur, signs.rise->at - kCarriedOut * blur) > field + kLeastTint;
}

}  // namespace glintline
