#include "trace/plan_rounding.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kStepN = 0.5;         ///< px between samples of a profile
constexpr double kBeyondPx = 7;        ///< of ground ahead of the outline
constexpr double kBehindPx = 9;        ///< of flat behind the widest strip
constexpr double kLeastRadiusPx = 0.4;
constexpr double kRadiusRatio = 1.15;  ///< between neighbouring radii of the grid
constexpr double kMostRadiusMm = 0.2;  ///< four times what TRADE.md calls dull
constexpr double kFirstOffsetPx = -2.5;
constexpr double kLastOffsetPx = 5;
constexpr double kStepOffsetPx = 0.25;
/// Clean steel gives back some 55 % of white light (handbook value from memory), oil and grinding less.
constexpr double kMirrorShare = 0.5;
/// Standard deviations of the priors on levels, as shares of the brightest level around.
constexpr double kMirrorSpread = 0.25;
constexpr double kLitSpread = 0.5;
constexpr double kSlopeSpread = 0.02;  ///< per pixel, of the flat's shading
/// Samples half a pixel apart share the blur, stations overlap by half, colours share the texture: of n samples about
/// n / 10 are independent.
constexpr double kIndependentShare = 0.1;
/// Change of ln r and of the outline (px) between stations 0.05 mm apart.
constexpr double kRadiusDrift = 0.08;
constexpr double kOutlineDriftPx = 0.2;
/// Sharpening: share and width of the wider Gaussian that cameras subtract (radius of 1 to 2 px is usual).
constexpr double kSharpenSigmaPx = 1.5;

/// The picture's response to a step: blur and sharpening.
struct Blur {
  double sigma = 1;
  double sharpening = 0;

  /// 0 far before the step at `at`, 1 far beyond it.
  [[nodiscard]] double step(double n, double at) const {
    const double narrow = normal_probability((n - at) / sigma);
    if (sharpening == 0) return narrow;
    return (1 + sharpening) * narrow - sharpening * normal_probability((n - at) / std::hypot(sigma, kSharpenSigmaPx));
  }
};

/// One point of the grid: radius and outline, px.
struct State {
  double radius = 0;
  double outline = 0;
};

enum Column { kFlat, kFlatSlope, kLitFirst, kLitSecond, kMirror, kGround, kColumns };
constexpr int kPriors = 3;

/// Mean profile of a station: rows are samples, columns colours; then the priors' wanted values.
struct Profile {
  Eigen::MatrixXf values;
  double base_n = 0;  ///< n of the profile's zero
  int row = 0;        ///< middle row of the strip
  bool intact = false;
  bool contrast = false;
};

struct Grid {
  std::vector<double> radii;
  std::vector<double> offsets;
  double behind = 0;
  int samples = 0;

  [[nodiscard]] double n(int i) const { return -behind + i * kStepN; }
  [[nodiscard]] int size() const { return static_cast<int>(radii.size() * offsets.size()); }
  [[nodiscard]] State state(int k) const {
    return {radii[k / offsets.size()], offsets[k % offsets.size()]};
  }
};

Grid make_grid(const RoundingTask& task) {
  Grid grid;
  const double most = std::max(4.0, kMostRadiusMm * task.px_per_mm);
  for (double r = kLeastRadiusPx; r < most; r *= kRadiusRatio) grid.radii.push_back(r);
  for (double o = kFirstOffsetPx; o <= kLastOffsetPx + 1e-9; o += kStepOffsetPx) grid.offsets.push_back(o);
  grid.behind = kBehindPx + most * (1 + std::sin(task.model.lean_rad)) - kFirstOffsetPx;
  grid.samples = static_cast<int>((grid.behind + kBeyondPx) / kStepN);
  return grid;
}

/// Scale of the levels at an edge, so that priors can be stated as shares.
struct Levels {
  double scale = 1;
  double noise = 0.01;
};

/// The linear model of a state: samples, then priors, by columns of levels.
Eigen::MatrixXd design(const Grid& grid, const State& state, const StripModel& model, const Blur& blur,
                       const Levels& levels) {
  const double inner = state.outline - state.radius * (1 - std::sin(model.start_rad));
  const double horizon = state.outline - state.radius * (1 - std::sin(model.horizon_rad));
  const double middle =
      state.outline - state.radius * (1 - std::sin((model.start_rad + model.horizon_rad) / 2));
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(grid.samples + kPriors, kColumns);
  for (int i = 0; i < grid.samples; ++i) {
    const double n = grid.n(i);
    const double s0 = blur.step(n, inner);
    const double s1 = blur.step(n, middle);
    const double s2 = blur.step(n, horizon);
    const double s3 = blur.step(n, state.outline);
    a(i, kFlat) = 1 - s0;
    a(i, kFlatSlope) = (1 - s0) * (n - inner) / 10;
    a(i, kLitFirst) = s0 - s1;
    a(i, kLitSecond) = s1 - s2;
    a(i, kMirror) = s2 - s3;
    a(i, kGround) = s3;
  }
  const double unit = levels.noise / levels.scale;
  a(grid.samples, kMirror) = unit / kMirrorSpread;
  a(grid.samples + 1, kLitFirst) = unit / kLitSpread;
  a(grid.samples + 1, kLitSecond) = -unit / kLitSpread;
  a(grid.samples + 2, kFlatSlope) = unit / (10 * kSlopeSpread);
  return a;
}

/// A single blurred step, flat to ground: what is left where the strip cannot be told.
Eigen::MatrixXd plain_design(const Grid& grid, double at, const Blur& blur, const Levels& levels) {
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(grid.samples + kPriors, 3);
  for (int i = 0; i < grid.samples; ++i) {
    const double s = blur.step(grid.n(i), at);
    a(i, 0) = 1 - s;
    a(i, 1) = (1 - s) * (grid.n(i) - at) / 10;
    a(i, 2) = s;
  }
  a(grid.samples + 2, 1) = levels.noise / levels.scale / (10 * kSlopeSpread);
  return a;
}

/// Orthonormal columns that span the design's.
Eigen::MatrixXf basis(const Eigen::MatrixXd& a) {
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(a);
  return (qr.householderQ() * Eigen::MatrixXd::Identity(a.rows(), a.cols())).cast<float>();
}

/// Residual sum of squares of every station (column) for one design: |y|² - |Q'y|², summed over the colours.
Eigen::VectorXf residuals(const Eigen::MatrixXf& q, const Eigen::MatrixXf& all, const Eigen::VectorXf& energy) {
  const Eigen::VectorXf explained = (q.transpose() * all).colwise().squaredNorm();
  const Eigen::VectorXf rest = energy - explained;
  Eigen::VectorXf out(rest.size() / 3);
  for (int k = 0; k < out.size(); ++k) out[k] = std::max(0.0F, rest[3 * k] + rest[3 * k + 1] + rest[3 * k + 2]);
  return out;
}

/// Path smoothed over the undamaged rows nearby, n; the straight line where there are none.
double smooth_path(const EdgePath& path, int row, int reach, const std::vector<bool>& intact) {
  std::vector<double> near;
  const int rows = static_cast<int>(path.n_px.size());
  for (int j = std::max(0, row - reach); j <= std::min(rows - 1, row + reach); ++j) {
    if (intact[j] && path.contrast[j]) near.push_back(path.n_px[j]);
  }
  return static_cast<int>(near.size()) * 2 > reach ? median(near) : path.line_px[row];
}

/// Rows whose outline keeps near its surroundings: neither inside a chip nor on a chip's wall.
std::vector<bool> intact_rows(const EdgePath& path, const RoundingTask& task) {
  const double chip_px = std::max(2.5, 0.06 * task.px_per_mm);
  const int guard = std::max(2, static_cast<int>(0.06 * task.px_per_mm));
  const int rows = static_cast<int>(path.n_px.size());
  const int reach = static_cast<int>(0.8 * task.px_per_mm);
  std::vector<bool> out(rows, true);
  for (int j = 0; j < rows; ++j) {
    const auto first = path.n_px.begin() + std::max(0, j - reach);
    const auto last = path.n_px.begin() + std::min(rows, j + reach + 1);
    const double around = percentile(std::vector<double>(first, last), 0.6);
    if (std::abs(path.n_px[j] - around) < chip_px) continue;
    for (int k = std::max(0, j - guard); k <= std::min(rows - 1, j + guard); ++k) out[k] = false;
  }
  return out;
}

Profile profile_at(const EdgeStrip& strip, const Grid& grid, int row, int half, double base_n) {
  Profile out;
  out.row = row;
  out.base_n = base_n;
  out.values = Eigen::MatrixXf::Zero(grid.samples + kPriors, 3);
  int used = 0;
  for (int j = std::max(0, row - half); j <= std::min(strip.linear.rows - 1, row + half); ++j) {
    const cv::Vec3f* line = strip.linear.ptr<cv::Vec3f>(j);
    ++used;
    for (int i = 0; i < grid.samples; ++i) {
      const double at = std::clamp(strip.column(base_n + grid.n(i)), 0.0, strip.linear.cols - 1.001);
      const int k = static_cast<int>(at);
      const auto f = static_cast<float>(at - k);
      for (int c = 0; c < 3; ++c) {
        const float v = line[k][c] * (1 - f) + line[k + 1][c] * f;
        out.values(i, c) += std::isfinite(v) ? v : 0;
      }
    }
  }
  out.values /= static_cast<float>(std::max(1, used));
  return out;
}

std::vector<Profile> profiles_of(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task,
                                 const Grid& grid) {
  const std::vector<bool> intact = intact_rows(path, task);
  const double spacing = std::max(2.0, task.station_mm * task.px_per_mm) / strip.step_s;
  const int half = std::max(1, static_cast<int>(std::lround(spacing)));
  const int reach = static_cast<int>(0.25 * task.px_per_mm);
  std::vector<Profile> out;
  for (double at = 0; at < strip.linear.rows; at += spacing) {
    const int row = static_cast<int>(at);
    Profile p = profile_at(strip, grid, row, half, smooth_path(path, row, reach, intact));
    p.intact = intact[row];
    p.contrast = path.contrast[row];
    out.push_back(std::move(p));
  }
  return out;
}

/// All stations side by side, three colours each, with the wanted values of the priors.
Eigen::MatrixXf side_by_side(std::vector<Profile>& profiles, const Grid& grid, const Levels& levels) {
  Eigen::MatrixXf all(grid.samples + kPriors, 3 * static_cast<int>(profiles.size()));
  const int ground = std::max(1, static_cast<int>(4 / kStepN));
  for (std::size_t k = 0; k < profiles.size(); ++k) {
    Eigen::MatrixXf& v = profiles[k].values;
    for (int c = 0; c < 3; ++c) {
      const float below = v.col(c).segment(grid.samples - ground, ground).mean();
      v(grid.samples, c) =
          static_cast<float>(kMirrorShare * below * levels.noise / levels.scale / kMirrorSpread);
    }
    all.middleCols(3 * static_cast<int>(k), 3) = v;
  }
  return all;
}

/// Residuals of all states (rows) at all stations (columns), and of the plain step.
struct Costs {
  Eigen::MatrixXf strip;
  Eigen::VectorXf plain;          ///< best over its place
  Eigen::VectorXf plain_outline;  ///< that place
};

class Likelihood {
 public:
  Likelihood(const Grid& grid, const Levels& levels, Eigen::MatrixXf all)
      : grid_(grid), levels_(levels), all_(std::move(all)), energy_(all_.colwise().squaredNorm()) {}

  [[nodiscard]] Costs costs(const StripModel& model, const Blur& blur) const {
    Costs out;
    const int stations = static_cast<int>(all_.cols() / 3);
    out.strip.resize(grid_.size(), stations);
    for (int k = 0; k < grid_.size(); ++k) {
      const Eigen::MatrixXf q = basis(design(grid_, grid_.state(k), model, blur, levels_));
      out.strip.row(k) = residuals(q, all_, energy_).transpose();
    }
    out.plain = Eigen::VectorXf::Constant(stations, std::numeric_limits<float>::infinity());
    out.plain_outline = Eigen::VectorXf::Zero(stations);
    for (const double wider : {1.0, 1.5, 2.2}) {
      const Blur soft{blur.sigma * wider, wider > 1 ? 0 : blur.sharpening};
      for (double at = 3 * kFirstOffsetPx; at <= kLastOffsetPx; at += kStepOffsetPx) {
        const Eigen::VectorXf r = residuals(basis(plain_design(grid_, at, soft, levels_)), all_, energy_);
        for (int s = 0; s < stations; ++s) {
          if (r[s] >= out.plain[s]) continue;
          out.plain[s] = r[s];
          out.plain_outline[s] = static_cast<float>(at);
        }
      }
    }
    return out;
  }

 private:
  const Grid& grid_;
  Levels levels_;
  Eigen::MatrixXf all_;
  Eigen::VectorXf energy_;
};

/// Every `step`-th entry.
template <typename T>
std::vector<T> thinned(const std::vector<T>& v, std::size_t step) {
  std::vector<T> out;
  for (std::size_t k = 0; k < v.size(); k += step) out.push_back(v[k]);
  return out;
}

/// The blur under which a few intact stations are explained best.
Blur chosen_blur(const Grid& grid, const Levels& levels, std::vector<Profile> profiles, const RoundingTask& task) {
  Grid coarse = grid;
  coarse.radii = thinned(grid.radii, 3);
  coarse.offsets = thinned(grid.offsets, 3);
  std::erase_if(profiles, [](const Profile& p) { return !p.intact; });
  std::vector<Profile> few = thinned(profiles, std::max<std::size_t>(1, profiles.size() / 10));
  Blur best;
  if (task.model.blur_px > 0) best.sigma = task.model.blur_px;
  if (few.empty()) return best;
  const Likelihood likelihood(coarse, levels, side_by_side(few, coarse, levels));
  double least = std::numeric_limits<double>::infinity();
  for (const double sharpening : {0.0, 0.3, 0.6}) {
    for (const double sigma : {0.65, 0.8, 1.0, 1.25, 1.6, 2.0, 2.6}) {
      const Costs costs = likelihood.costs(task.model, {sigma, sharpening});
      const double sum = costs.strip.colwise().minCoeff().cwiseSqrt().sum();
      if (sum < least) {
        least = sum;
        best = {sigma, sharpening};
      }
    }
  }
  return best;
}

/// Kernel of the change from one station to the next: weights of grid distances 0, 1, 2, ...
std::vector<double> drift_kernel(double spread, double grid_step) {
  std::vector<double> out;
  for (int k = 0; k < 4; ++k) out.push_back(std::exp(-0.5 * std::pow(k * grid_step / spread, 2)));
  return out;
}

/// Weights spread to neighbouring radii and outlines. `w`: offsets x radii.
Eigen::MatrixXd drifted(const Eigen::MatrixXd& w, const std::vector<double>& along_radius,
                        const std::vector<double>& along_outline) {
  Eigen::MatrixXd half = Eigen::MatrixXd::Zero(w.rows(), w.cols());
  for (int k = -3; k <= 3; ++k) {
    for (int c = std::max(0, -k); c < std::min<int>(w.cols(), w.cols() - k); ++c) {
      half.col(c + k) += along_radius[std::abs(k)] * w.col(c);
    }
  }
  Eigen::MatrixXd out = Eigen::MatrixXd::Zero(w.rows(), w.cols());
  for (int k = -3; k <= 3; ++k) {
    for (int r = std::max(0, -k); r < std::min<int>(w.rows(), w.rows() - k); ++r) {
      out.row(r + k) += along_outline[std::abs(k)] * half.row(r);
    }
  }
  return out / out.sum();
}

/// Likelihoods as offsets x radii, prior uniform in r.
std::vector<Eigen::MatrixXd> likelihoods(const Costs& costs, const std::vector<Profile>& profiles, const Grid& grid,
                                         double variance) {
  std::vector<Eigen::MatrixXd> out;
  for (int s = 0; s < costs.strip.cols(); ++s) {
    Eigen::MatrixXd w = Eigen::MatrixXd::Ones(grid.offsets.size(), grid.radii.size());
    if (profiles[s].intact) {
      const double least = costs.strip.col(s).minCoeff();
      for (int k = 0; k < grid.size(); ++k) {
        const double excess = (costs.strip(k, s) - least) / std::max(variance, least / grid.samples / 3);
        w(k % w.rows(), k / w.rows()) = std::exp(-0.5 * kIndependentShare * excess);
      }
    }
    out.push_back(w);
  }
  return out;
}

/// Posterior of every station given all.
std::vector<Eigen::MatrixXd> smoothed(const std::vector<Eigen::MatrixXd>& likelihood, const Grid& grid,
                                      const std::vector<Profile>& profiles, double steps_of_50um) {
  const std::vector<double> radius = drift_kernel(kRadiusDrift * std::sqrt(steps_of_50um), std::log(kRadiusRatio));
  const std::vector<double> outline = drift_kernel(kOutlineDriftPx * std::sqrt(steps_of_50um), kStepOffsetPx);
  const std::size_t n = likelihood.size();
  Eigen::MatrixXd prior(grid.offsets.size(), grid.radii.size());
  for (int c = 0; c < prior.cols(); ++c) prior.col(c).setConstant(grid.radii[c]);
  prior /= prior.sum();
  std::vector<Eigen::MatrixXd> forward(n);
  std::vector<Eigen::MatrixXd> backward(n);
  for (std::size_t k = 0; k < n; ++k) {
    const bool jump = k > 0 && std::abs(profiles[k].base_n - profiles[k - 1].base_n) > 1;
    forward[k] = k == 0 || jump ? prior : drifted(forward[k - 1].cwiseProduct(likelihood[k - 1]), radius, outline);
  }
  for (std::size_t k = n; k-- > 0;) {
    const bool jump = k + 1 < n && std::abs(profiles[k].base_n - profiles[k + 1].base_n) > 1;
    backward[k] = Eigen::MatrixXd::Ones(prior.rows(), prior.cols()) / prior.size();
    if (k + 1 < n && !jump) backward[k] = drifted(backward[k + 1].cwiseProduct(likelihood[k + 1]), radius, outline);
  }
  std::vector<Eigen::MatrixXd> out(n);
  for (std::size_t k = 0; k < n; ++k) {
    out[k] = forward[k].cwiseProduct(backward[k]).cwiseProduct(likelihood[k]);
    out[k] /= out[k].sum();
  }
  return out;
}

/// Mean, spread and upper bound of a posterior.
struct Answer {
  double radius = 0;
  double u_radius = 0;
  double radius_limit = 0;  ///< 97.5 % of the posterior lies below
  double outline = 0;
  double u_outline = 0;
};

Answer answer_of(const Eigen::MatrixXd& posterior, const Grid& grid) {
  Answer out;
  double below = 0;
  for (int c = 0; c < posterior.cols(); ++c) {
    const double w = posterior.col(c).sum();
    out.radius += w * grid.radii[c];
    out.u_radius += w * grid.radii[c] * grid.radii[c];
    if (below < 0.975) out.radius_limit = grid.radii[c] * std::sqrt(kRadiusRatio);
    below += w;
  }
  for (int r = 0; r < posterior.rows(); ++r) {
    const double w = posterior.row(r).sum();
    out.outline += w * grid.offsets[r];
    out.u_outline += w * grid.offsets[r] * grid.offsets[r];
  }
  const double grid_spread = out.radius * std::log(kRadiusRatio);
  out.u_radius = std::sqrt(std::max(0.0, out.u_radius - out.radius * out.radius) + grid_spread * grid_spread / 12);
  out.u_outline = std::sqrt(std::max(0.0, out.u_outline - out.outline * out.outline) +
                            kStepOffsetPx * kStepOffsetPx / 12);
  return out;
}

StripState state_of(double gain, double u_rel) {
  // A gain of 4 in log likelihood: odds of 50 to 1 that there is a strip at all.
  if (gain < 4 || u_rel > 0.45) return StripState::kUnlit;
  return u_rel < 0.2 ? StripState::kLit : StripState::kPart;
}

}  // namespace

RoundingFit fit_rounding(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task) {
  const Grid grid = make_grid(task);
  std::vector<Profile> profiles = profiles_of(strip, path, task, grid);
  std::vector<double> tops;
  for (const Profile& p : profiles) tops.push_back(p.values.topRows(grid.samples).maxCoeff());
  Levels levels;
  levels.scale = std::max(0.02, median(tops));
  levels.noise = 0.05 * levels.scale;
  const Blur blur = chosen_blur(grid, levels, profiles, task);
  const Likelihood likelihood(grid, levels, side_by_side(profiles, grid, levels));
  const Costs costs = likelihood.costs(task.model, blur);
  std::vector<double> least;
  for (int s = 0; s < costs.strip.cols(); ++s) {
    if (profiles[s].intact) least.push_back(costs.strip.col(s).minCoeff() / (3.0 * grid.samples));
  }
  const double variance = least.empty() ? 1 : std::max(1e-8, median(least));
  const double spacing = std::max(2.0, task.station_mm * task.px_per_mm);
  const auto posterior = smoothed(likelihoods(costs, profiles, grid, variance), grid, profiles,
                                  spacing / task.px_per_mm / 0.05);
  RoundingFit out;
  out.model = task.model;
  out.model.blur_px = blur.sigma;
  const double full = 1 + std::sin(task.model.lean_rad);
  for (std::size_t k = 0; k < profiles.size(); ++k) {
    const Profile& p = profiles[k];
    const Answer a = answer_of(posterior[k], grid);
    const double s = strip.s(p.row);
    const int column = static_cast<int>(k);
    const double local = std::max(variance, costs.strip.col(column).minCoeff() / (3.0 * grid.samples));
    const double gain = 0.5 * kIndependentShare * (costs.plain[column] - costs.strip.col(column).minCoeff()) / local;
    EdgeStation station;
    station.line_px = strip.frame.px(s, path.line_px[p.row]);
    station.strip = p.intact ? state_of(gain, a.u_radius / a.radius) : StripState::kUnlit;
    station.strip_px = a.radius * full;
    station.u_strip_px = a.u_radius * full;
    station.strip_limit_px = a.radius_limit * full;
    const bool lit = station.strip != StripState::kUnlit;
    const double n = !p.intact ? path.n_px[p.row] : p.base_n + (lit ? a.outline : costs.plain_outline[column]);
    station.outline_px = strip.frame.px(s, n);
    station.outline_seen = lit || p.contrast;
    station.u_outline_px = lit ? a.u_outline : 0.5;
    out.stations.push_back(station);
  }
  return out;
}

}  // namespace glintline
