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
constexpr double kLitSpread = 0.5;      ///< between the lit part's two levels, once both can be resolved
constexpr double kLitSpreadFine = 0.1;  ///< the same where the strip is narrow
/// Samples half a pixel apart share the blur, stations overlap by half, colours share the texture: of n samples about
/// n / 10 are independent.
constexpr double kIndependentShare = 0.1;
constexpr double kIndependentColours = 1.5;
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

/// Shading and scratches of flat and ground are no strip: each surface may also wave, by cosines of so many half
/// periods, as strongly as it is seen to wave where no strip can be.
constexpr int kWaves = 4;
enum Column { kFlat, kLitFirst, kLitSecond, kMirror, kGround, kLevels };
constexpr int kColumns = kLevels + 2 * kWaves;
constexpr int kPriors = 3 + 2 * kWaves;

/// Mean profile of a station: rows are samples, columns colours; then the priors' wanted values.
struct Profile {
  Eigen::MatrixXf values;
  double base_n = 0;  ///< n of the profile's zero
  double beyond_line_px = 0;  ///< base_n over the straight line's n
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

/// Levels of light at an edge, linear.
struct Levels {
  double scale = 1;         ///< brightest around: priors are shares of it
  double noise = 0.01;      ///< fine-grained, of a profile's sample
  double flat_wave = 0.01;  ///< standard deviation of the flat's coarse-grained texture along a profile
  double ground_wave = 0.01;
};

/// Cosine number `k` (from 1) over a stretch of `length` that begins at `first`.
double wave(int k, double n, double first, double length) { return std::cos(k * M_PI * (n - first) / length); }

/// Adds the waves of flat (share 1 - `inner`) and ground (share `outer`) to a row, from `column` on.
void add_waves(Eigen::MatrixXd& a, int row, int column, const Grid& grid, double flat_share, double ground_share) {
  const double n = grid.n(row);
  for (int k = 0; k < kWaves; ++k) {
    a(row, column + k) = flat_share * wave(k + 1, n, -grid.behind, grid.behind);
    a(row, column + kWaves + k) = ground_share * wave(k + 1, n, 0, kBeyondPx);
  }
}

/// Priors that hold the waves to the texture seen elsewhere: the variance is spread over the cosines.
void add_wave_priors(Eigen::MatrixXd& a, int first_row, int column, const Levels& levels) {
  const double share = std::sqrt(2.0 / kWaves);
  for (int k = 0; k < kWaves; ++k) {
    a(first_row + k, column + k) = levels.noise / (share * levels.flat_wave);
    a(first_row + kWaves + k, column + kWaves + k) = levels.noise / (share * levels.ground_wave);
  }
}

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
    a(i, kLitFirst) = s0 - s1;
    a(i, kLitSecond) = s1 - s2;
    a(i, kMirror) = s2 - s3;
    a(i, kGround) = s3;
    add_waves(a, i, kLevels, grid, 1 - s0, s3);
  }
  const double unit = levels.noise / levels.scale;
  // Two levels need about four blurs of lit strip to be told apart.
  const double resolved = std::clamp((horizon - inner) / blur.sigma / 2 - 1, 0.0, 1.0);
  const double spread = kLitSpreadFine + resolved * (kLitSpread - kLitSpreadFine);
  a(grid.samples, kMirror) = unit / kMirrorSpread;
  a(grid.samples + 1, kLitFirst) = unit / spread;
  a(grid.samples + 1, kLitSecond) = -unit / spread;
  a(grid.samples + 2 + 2 * kWaves, kLitFirst) = unit;
  add_wave_priors(a, grid.samples + 2, kLevels, levels);
  return a;
}

/// A single blurred step, flat to ground: what is left where the strip cannot be told.
Eigen::MatrixXd plain_design(const Grid& grid, double at, const Blur& blur, const Levels& levels) {
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(grid.samples + kPriors, 2 + 2 * kWaves);
  for (int i = 0; i < grid.samples; ++i) {
    const double s = blur.step(grid.n(i), at);
    a(i, 0) = 1 - s;
    a(i, 1) = s;
    add_waves(a, i, 2, grid, 1 - s, s);
  }
  add_wave_priors(a, grid.samples + 2, 2, levels);
  return a;
}

/// A design ready for many stations.
struct Basis {
  Eigen::MatrixXf q;    ///< orthonormal columns that span the design's
  double log_volume = 0;  ///< ln det(A'A) / 2: how sharply the levels are determined
};

Basis basis(const Eigen::MatrixXd& a) {
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(a);
  Basis out;
  out.q = (qr.householderQ() * Eigen::MatrixXd::Identity(a.rows(), a.cols())).cast<float>();
  for (int k = 0; k < a.cols(); ++k) out.log_volume += std::log(std::max(1e-9, std::abs(qr.matrixQR()(k, k))));
  return out;
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
    p.beyond_line_px = p.base_n - path.line_px[row];
    p.intact = intact[row];
    p.contrast = path.contrast[row];
    out.push_back(std::move(p));
  }
  return out;
}

/// Grain and waves of the rows around the profiles, in places where no strip can be.
struct Texture {
  std::vector<double> grain;  ///< variances
  std::vector<double> waves;
};

void add_texture(Texture& texture, const EdgeStrip& strip, const Profile& p, double from_n, double to_n) {
  constexpr int kCoarse = 6;  // samples, 3 px: the finest wave that a strip could be taken for
  std::vector<double> values;
  const int half = 2;
  for (double n = p.base_n + from_n; n < p.base_n + to_n; n += strip.step_n) {
    const int column = static_cast<int>(std::lround(strip.column(n)));
    if (column < 0 || column >= strip.linear.cols) continue;
    double sum = 0;
    int used = 0;
    for (int j = std::max(0, p.row - half); j <= std::min(strip.linear.rows - 1, p.row + half); ++j, ++used) {
      sum += strip.linear.at<cv::Vec3f>(j, column)[1];
    }
    if (std::isfinite(sum)) values.push_back(sum / used);
  }
  std::vector<double> coarse;
  std::vector<double> fine;
  for (std::size_t k = 0; k + kCoarse <= values.size(); k += kCoarse) {
    coarse.push_back(mean(std::span(values).subspan(k, kCoarse)));
    for (int i = 0; i < kCoarse; ++i) fine.push_back(values[k + i] - coarse.back());
  }
  if (coarse.size() < 3) return;
  texture.waves.push_back(std::pow(standard_deviation(coarse), 2));
  texture.grain.push_back(std::pow(standard_deviation(fine), 2));
}

Levels levels_of(const EdgeStrip& strip, const std::vector<Profile>& profiles, const Grid& grid) {
  Texture flat;
  Texture ground;
  std::vector<double> tops;
  const double ground_end = strip.n(strip.linear.cols - 1);
  for (const Profile& p : profiles) {
    tops.push_back(p.values.topRows(grid.samples).maxCoeff());
    if (!p.intact) continue;
    add_texture(flat, strip, p, -2 * grid.behind, -grid.behind + kBehindPx);
    add_texture(ground, strip, p, kLastOffsetPx, std::min(ground_end - p.base_n, kLastOffsetPx + 4 * kBeyondPx));
  }
  Levels levels;
  levels.scale = std::max(0.02, median(tops));
  const double least = 0.003 * levels.scale;
  const auto size = [&](std::vector<double> v) { return v.empty() ? least : std::max(least, std::sqrt(median(v))); };
  levels.flat_wave = size(flat.waves);
  levels.ground_wave = size(ground.waves);
  levels.noise = size(flat.grain);
  return levels;
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
  Eigen::VectorXd log_volume;  ///< of every state
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
    out.log_volume.resize(grid_.size());
    for (int k = 0; k < grid_.size(); ++k) {
      const Basis b = basis(design(grid_, grid_.state(k), model, blur, levels_));
      out.strip.row(k) = residuals(b.q, all_, energy_).transpose();
      out.log_volume[k] = b.log_volume;
    }
    out.plain = Eigen::VectorXf::Constant(stations, std::numeric_limits<float>::infinity());
    out.plain_outline = Eigen::VectorXf::Zero(stations);
    for (const double wider : {1.0, 1.5, 2.2}) {
      const Blur soft{blur.sigma * wider, wider > 1 ? 0 : blur.sharpening};
      for (double at = 3 * kFirstOffsetPx; at <= kLastOffsetPx; at += kStepOffsetPx) {
        const Eigen::VectorXf r = residuals(basis(plain_design(grid_, at, soft, levels_)).q, all_, energy_);
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

/// An edge is filed straight and only loses metal: an outline ahead of the line of its neighbours is unlikely.
double beyond_line(double n_px, double px_per_mm) {
  const double spread = 0.5 + 0.03 * px_per_mm;
  return n_px > 0 ? 0.5 * n_px * n_px / (spread * spread) : 0;
}

/// Likelihoods as offsets x radii, before any prior (which is uniform in ln r), with the levels integrated out
/// (Laplace: MacKay, Information Theory, Inference and Learning Algorithms, 2003, eq. 28.10): a wide strip that bends
/// its levels to noise must not beat a narrow one that needs not.
std::vector<Eigen::MatrixXd> likelihoods(const Costs& costs, const std::vector<Profile>& profiles, const Grid& grid,
                                         double variance, double px_per_mm) {
  std::vector<Eigen::MatrixXd> out;
  for (int s = 0; s < costs.strip.cols(); ++s) {
    Eigen::MatrixXd w = Eigen::MatrixXd::Ones(grid.offsets.size(), grid.radii.size());
    if (profiles[s].intact) {
      const double local = std::max(variance, costs.strip.col(s).minCoeff() / (3.0 * grid.samples));
      Eigen::VectorXd log_likelihood = -0.5 * kIndependentShare / local * costs.strip.col(s).cast<double>();
      log_likelihood -= kIndependentColours * costs.log_volume;
      for (int k = 0; k < grid.size(); ++k) {
        log_likelihood[k] -= beyond_line(profiles[s].beyond_line_px + grid.state(k).outline, px_per_mm);
      }
      const double most = log_likelihood.maxCoeff();
      for (int k = 0; k < grid.size(); ++k) w(k % w.rows(), k / w.rows()) = std::exp(log_likelihood[k] - most);
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
  const Eigen::MatrixXd prior = Eigen::MatrixXd::Ones(grid.offsets.size(), grid.radii.size()) / grid.size();
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

/// True where the lit part has the ground's own colour, dimmer: then it mirrors the slip, and its end at the flat is
/// not the horizon.
bool dimmed_ground(const Eigen::MatrixXd& x) {
  const Eigen::RowVector3d lit = (x.row(kLitFirst) + x.row(kLitSecond)) / 2;
  const Eigen::RowVector3d ground = x.row(kGround);
  const double share = lit.dot(ground) / std::max(1e-9, ground.squaredNorm());
  return share > 0.2 && share < 1 && (lit - share * ground).norm() < 0.25 * share * ground.norm();
}

/// How far the lit part's levels stand out from flat and ground, in waves of those surfaces: over 1 it is a strip of its
/// own. A strip whose levels lie between flat and ground is no more than a soft step, which shading explains as well.
double prominence(const Eigen::MatrixXd& x, const Levels& levels) {
  constexpr double kWavesOver = 3;
  const double flat = kWavesOver * levels.flat_wave;
  const double ground = kWavesOver * levels.ground_wave;
  double best = 0;
  const bool dimmed = dimmed_ground(x);
  for (int c = 0; c < 3; ++c) {
    const double f = x(kFlat, c);
    const double g = x(kGround, c);
    const double first = x(kLitFirst, c);
    const double second = x(kLitSecond, c);
    for (const double lit : {first, second, (first + second) / 2}) {
      best = std::max(best, std::min((lit - f) / flat, (lit - g) / ground));
      if (!dimmed) best = std::max(best, std::min((f - lit) / flat, (g - lit) / ground));
    }
    // Dark beside the flat, then bright again before the ground; or the other way round.
    best = std::max(best, std::min({(f - first) / flat, (second - first) / ground, (second - g) / ground}));
    best = std::max(best, std::min({(first - f) / flat, (first - second) / ground, (g - second) / ground}));
  }
  return best;
}

double prominence_at(const Grid& grid, const Answer& answer, const Profile& p, const RoundingFit& fit,
                     const Blur& blur, const Levels& levels) {
  const Eigen::MatrixXd a = design(grid, {answer.radius, answer.outline}, fit.model, blur, levels);
  return prominence(a.householderQr().solve(p.values.cast<double>()), levels);
}

StripState state_of(double gain, double u_rel, double prominent) {
  // A gain of 4 in log likelihood: odds of 50 to 1 that there is a strip at all.
  if (gain < 4 || u_rel > 0.45 || prominent < 1) return StripState::kUnlit;
  return u_rel < 0.2 && prominent > 2 ? StripState::kLit : StripState::kPart;
}

}  // namespace

RoundingFit fit_rounding(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task) {
  const Grid grid = make_grid(task);
  std::vector<Profile> profiles = profiles_of(strip, path, task, grid);
  const Levels levels = levels_of(strip, profiles, grid);
  const Blur blur = chosen_blur(grid, levels, profiles, task);
  const Likelihood likelihood(grid, levels, side_by_side(profiles, grid, levels));  // completes the profiles too
  const Costs costs = likelihood.costs(task.model, blur);
  std::vector<double> least;
  for (int s = 0; s < costs.strip.cols(); ++s) {
    if (profiles[s].intact) least.push_back(costs.strip.col(s).minCoeff() / (3.0 * grid.samples));
  }
  const double variance = std::max(levels.noise * levels.noise, least.empty() ? 0 : median(least));
  const double spacing = std::max(2.0, task.station_mm * task.px_per_mm);
  const auto posterior = smoothed(likelihoods(costs, profiles, grid, variance, task.px_per_mm), grid, profiles,
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
    const double stands_out = p.intact ? prominence_at(grid, a, p, out, blur, levels) : 0;
    EdgeStation station;
    station.line_px = strip.frame.px(s, path.line_px[p.row]);
    station.strip = p.intact ? state_of(gain, a.u_radius / a.radius, stands_out) : StripState::kUnlit;
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
