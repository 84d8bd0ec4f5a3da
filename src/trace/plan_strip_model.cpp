#include "trace/plan_strip_model.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "math/blurred_step.h"

namespace glintline {

namespace {

/// Clean steel gives back some 55 % of white light (handbook value from memory), oil and grinding less.
constexpr double kMirrorShare = 0.5;
/// Standard deviation of the prior on the mirror part: a share of the ground's level, for what else lies below, and of
/// the brightest level around, for gloss.
constexpr double kMirrorOfGround = 0.35;
constexpr double kMirrorOfScale = 0.04;
/// Scattered light of the mirror part over the flat's: rectangular from 0 to 2 (mean, standard deviation).
constexpr double kScattered = 1;
constexpr double kScatteredSpread = 0.58;
/// Change of the lit part's light from one node to the next, standard deviation as a share of the brightest level.
constexpr double kLitSpread = 0.5;
/// An even light has a level for every two nodes.
constexpr int kNodesAPiece = 2;
constexpr double kSameLevel = 0.01;
/// A prior counts as two independent pieces of evidence (by experiment: tests/accuracy); samples, counted at
/// kIndependentShare, are less than one each.
const double kPriorWeight = std::sqrt(2 / kIndependentShare);
/// What lies a gap g under the edge loses half of an even sky at the edge's foot and regains it over a way of g: over a
/// strip's 0.1 mm that is 5 to 20 % for gaps of 1 to 0.25 mm, and half right at the foot. Standard deviation as a share
/// of the ground, and its way.
constexpr double kShadeShare = 0.25;
constexpr double kShadePx = 4;
/// Radius of the wider Gaussian that cameras subtract: 1 to 2 px is usual (by experience).
constexpr double kSharpenSigmaPx = 1.5;

double mirror_spread(const StripLevels& levels) {
  return std::hypot(kMirrorOfGround * levels.ground + kMirrorOfScale * levels.scale, kScatteredSpread * levels.diffuse);
}

double wave(int k, double n, double first, double length) { return std::cos(k * M_PI * (n - first) / length); }

/// Shade of the plate on the ground, beside the outline: 1 at it, falling off.
double shade_at(double n) { return n > 0 ? std::exp(-n / kShadePx) : 1; }

/// Waves of flat (share `flat`) and ground (share `ground`) at a row, from `column` on, then the ground's shade.
void add_waves(Eigen::MatrixXd& a, int row, int column, const StripWindow& window, double flat, double ground) {
  const double n = window.n(row);
  for (int k = 0; k < kWaves; ++k) {
    a(row, column + k) = flat * wave(k + 1, n, -window.behind_px, window.behind_px);
    a(row, column + kWaves + k) = ground * wave(k + 1, n, 0, window.beyond_px);
  }
  a(row, column + 2 * kWaves) = ground * shade_at(n);
}

/// Priors that hold the waves to the texture seen elsewhere, whose variance is spread over the cosines, and the shade
/// to what is usual.
void add_wave_priors(Eigen::MatrixXd& a, int first_row, int column, const StripLevels& levels) {
  const double share = std::sqrt(2.0 / kWaves);
  for (int k = 0; k < kWaves; ++k) {
    a(first_row + k, column + k) = kPriorWeight * levels.noise / (share * levels.flat_wave);
    a(first_row + kWaves + k, column + kWaves + k) = kPriorWeight * levels.noise / (share * levels.ground_wave);
  }
  a(first_row + 2 * kWaves, column + 2 * kWaves) = kPriorWeight * levels.noise / (kShadeShare * levels.ground);
}

/// Priors that let the light change by so much between nodes; a steady light's first follows the flat.
void add_lit_priors(Eigen::MatrixXd& a, int first_row, const StripLevels& levels, LightShape shape) {
  const double unit = kPriorWeight * levels.noise / levels.scale;
  const bool steady = shape == LightShape::kSteady;
  a(first_row, kLit) = steady ? unit / kLitSpread : unit;
  if (steady) a(first_row, kFlat) = -unit / kLitSpread;
  for (int k = 1; k < kLitNodes; ++k) {
    const double spread = !steady && k % kNodesAPiece != 0 ? kSameLevel : kLitSpread;
    a(first_row + k, kLit + k) = unit / spread;
    a(first_row + k, kLit + k - 1) = -unit / spread;
  }
}

/// The normal at `node`, counted from the lit part's beginning.
double lit_angle(const StripModel& model, double node, LightShape shape = LightShape::kSteady) {
  const double first = shape == LightShape::kSteady ? -model.lean_rad : model.start_rad;
  return first + node / kLitNodes * (model.horizon_rad - first);
}

/// True where a node of the lit part may mirror the ground: it is dimmer, by no more than steel makes it.
bool dimmed_ground(const Eigen::VectorXd& x, int node) {
  const double share = x[node] / std::max(1e-9, x[kGround]);
  return share > 0.2 && share < 1;
}

}  // namespace

double StepResponse::at(double n, double step) const {
  const double narrow = blurred_step((n - step) / sigma_px);
  if (sharpening == 0) return narrow;
  const double wide = blurred_step((n - step) / std::hypot(sigma_px, kSharpenSigmaPx));
  return (1 + sharpening) * narrow - sharpening * wide;
}

double wanted_mirror(double ground, double flat, const StripLevels& levels) {
  const double scattered = levels.diffuse > 0 ? kScattered * flat : 0;
  return kPriorWeight * (kMirrorShare * ground + scattered) * levels.noise / mirror_spread(levels);
}

Eigen::MatrixXd strip_design(const StripWindow& window, double radius_px, const StripModel& model,
                             const StepResponse& response, const StripLevels& levels, LightShape shape) {
  constexpr int kCuts = 3;  // between neighbouring nodes, within which the light is taken as even
  std::array<double, kLitNodes * kCuts + 1> bounds{};
  for (std::size_t k = 0; k < bounds.size(); ++k) {
    bounds[k] = -radius_px * (1 - std::sin(lit_angle(model, static_cast<double>(k) / kCuts, shape)));
  }
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(window.samples + kStripPriors, kStripColumns);
  for (int i = 0; i < window.samples; ++i) {
    const double n = window.n(i);
    double before = response.at(n, bounds[0]);
    const double end = response.at(n, 0);
    a(i, kFlat) = 1 - before;
    a(i, kGround) = end;
    add_waves(a, i, kStripLevels, window, 1 - before, end);
    for (int k = 0; k < kLitNodes * kCuts; ++k) {
      const double next = response.at(n, bounds[k + 1]);
      const int node = k / kCuts;
      const double share = shape == LightShape::kSteady ? (k % kCuts + 0.5) / kCuts : 1;
      a(i, node == 0 ? kFlat : kLit + node - 1) += (1 - share) * (before - next);
      a(i, kLit + node) += share * (before - next);
      before = next;
    }
    a(i, kMirror) = before - end;
  }
  a(window.samples, kMirror) = kPriorWeight * levels.noise / mirror_spread(levels);
  add_lit_priors(a, window.samples + 1, levels, shape);
  add_wave_priors(a, window.samples + 1 + kLitNodes, kStripLevels, levels);
  return a;
}

Eigen::MatrixXd plain_design(const StripWindow& window, double step, const StepResponse& response,
                             const StripLevels& levels) {
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(window.samples + kStripPriors, 2 + 2 * kWaves + kShade);
  for (int i = 0; i < window.samples; ++i) {
    const double s = response.at(window.n(i), step);
    a(i, 0) = 1 - s;
    a(i, 1) = s;
    add_waves(a, i, 2, window, 1 - s, s);
  }
  add_wave_priors(a, window.samples + 1 + kLitNodes, 2, levels);
  return a;
}

Prominence prominence(const Eigen::VectorXd& solved, const StripLevels& levels, bool flat_flashes) {
  constexpr double kWavesOver = 3;
  // A camera's sharpening leaves a wave of some tenth of the step from flat to ground.
  constexpr double kOvershoot = 0.15;
  const double f = solved[kFlat];
  const double g = solved[kGround];
  const double step = kOvershoot * std::abs(f - g);
  const double flat = std::max(kWavesOver * levels.flat_wave, step);
  const double ground = std::max(kWavesOver * levels.ground_wave, step);
  Prominence out;
  for (int k = kLit; k < kMirror; ++k) {
    if (dimmed_ground(solved, k)) continue;
    const double lit = solved[k];
    out.bright = std::max(out.bright, std::min((lit - f) / flat, (lit - g) / ground));
    // Beside a flashing flat anything is dark.
    if (!flat_flashes) out.any = std::max(out.any, std::min((f - lit) / flat, (g - lit) / ground));
    for (int m = k + 1; m < kMirror; ++m) {
      if (dimmed_ground(solved, m)) continue;
      // Dark beside the flat, then bright again before the ground; or the other way round.
      const double later = solved[m];
      out.any = std::max(out.any, std::min({(f - lit) / flat, (later - lit) / ground, (later - g) / ground}));
      out.any = std::max(out.any, std::min({(lit - f) / flat, (lit - later) / ground, (g - later) / ground}));
    }
  }
  out.any = std::max(out.any, out.bright);
  return out;
}

std::optional<LitShares> lit_shares(const Eigen::VectorXd& solved) {
  LitShares out{};
  for (int k = 0; k < kLitNodes; ++k) out[k] = solved[kLit + k] - solved[kFlat];
  const double most = *std::max_element(out.begin(), out.end());
  if (most <= 0) return std::nullopt;
  for (double& share : out) share /= most;
  return out;
}

std::optional<LitBand> lit_band(const LitShares& shares, const StripModel& model) {
  constexpr double kWhole = 0.9;  // by experiment: a strip lit up to the horizon comes within this of its brightest
  if (shares.back() >= kWhole) return std::nullopt;
  const auto peak = static_cast<int>(std::max_element(shares.begin(), shares.end()) - shares.begin());
  const auto share = [&](int k) { return k < 0 ? 0.0 : shares[k]; };
  const auto half = [&](int below, int above) {
    return below + (above - below) * (0.5 - share(below)) / (share(above) - share(below));
  };
  int from = peak;
  while (share(from - 1) >= 0.5) --from;
  int to = peak;
  while (to + 1 < kLitNodes && shares[to + 1] >= 0.5) ++to;
  const double end = to + 1 < kLitNodes ? half(to + 1, to) : to;
  return LitBand{lit_angle(model, half(from - 1, from) + 1), lit_angle(model, end + 1)};
}

}  // namespace glintline
