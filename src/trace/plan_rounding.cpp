#include "trace/plan_rounding.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <opencv2/core/utility.hpp>

#include "math/rectangular.h"
#include "math/statistics.h"
#include "trace/plan_posterior.h"
#include "trace/plan_profiles.h"
#include "trace/plan_strip_model.h"

namespace glintline {

namespace {

constexpr double kBeyondPx = 7;  ///< of ground ahead of the outline
constexpr double kBehindPx = 9;  ///< of flat behind the widest strip
constexpr double kLeastRadiusPx = 0.5;
constexpr double kRadiusRatio = 1.2;   ///< between neighbouring radii of the coarse grid
constexpr double kMostRadiusMm = 0.2;  ///< four times what TRADE.md calls dull
constexpr double kFirstOffsetPx = -2.5;
constexpr double kLastOffsetPx = 5;

/// Colour is believed so much less closely than luma (by experiment: tests/accuracy): other metal below the edge and
/// what it mirrors have colours of their own. A JPEG that stores it coarsely also rounds it coarsely (ITU-T T.81, Annex
/// K: most of the low frequencies' steps in the colour table are 1.5 to 4.5 times those in the luma table).
constexpr double kColourDoubt = 2;
constexpr double kCoarseDoubt = 3;

/// One reading of an edge's profiles.
struct Channel {
  StripLevels levels;
  double blur_px = 0;  ///< standard deviation, besides the picture's own
  std::vector<Eigen::VectorXf> values;
};

/// Windows of some stations in one channel.
struct Windows {
  Eigen::MatrixXf stacked;  ///< with prior rows, in units of the channel's noise; columns: station, then offset
  Eigen::VectorXf energy;   ///< squared length of each column
};
using AllWindows = std::vector<Windows>;  ///< of all channels

/// Everything the fit of one edge looks at.
struct EdgeData {
  StripWindow window;
  StripGrid grid;
  std::vector<PlanProfile> profiles;
  std::vector<Channel> channels;  ///< luma, then colour
  AllWindows windows;             ///< of all stations

  [[nodiscard]] const StripLevels& luma_levels() const { return channels.front().levels; }
  /// Samples of a window, all channels.
  [[nodiscard]] double samples() const { return static_cast<double>(channels.size()) * window.samples; }
};

StripGrid make_grid(double most_radius_px) {
  StripGrid grid;
  for (double r = kLeastRadiusPx; r < most_radius_px * kRadiusRatio; r *= kRadiusRatio) grid.radii.push_back(r);
  for (double o = kFirstOffsetPx; o <= kLastOffsetPx + 1e-9; o += StripWindow::kStepPx) grid.offsets.push_back(o);
  return grid;
}

/// A window of a profile and what its first prior wants.
Eigen::VectorXf window_of(const Channel& channel, std::size_t station, std::size_t offset, int samples) {
  const int ground = static_cast<int>(4 / StripWindow::kStepPx);
  Eigen::VectorXf out = Eigen::VectorXf::Zero(samples + kStripPriors);
  out.head(samples) = channel.values[station].segment(static_cast<Eigen::Index>(offset), samples);
  const double below = out.segment(samples - ground, ground).mean();
  out[samples] = static_cast<float>(wanted_mirror(below, out.head(ground).mean(), channel.levels));
  return out;
}

/// The windows of some stations under all offsets, side by side.
AllWindows stack_windows(const EdgeData& data, const std::vector<std::size_t>& stations) {
  const auto offsets = data.grid.offsets.size();
  AllWindows out;
  for (const Channel& channel : data.channels) {
    Windows w;
    w.stacked.resize(data.window.samples + kStripPriors, static_cast<Eigen::Index>(stations.size() * offsets));
    Eigen::Index column = 0;
    for (const std::size_t s : stations) {
      for (std::size_t o = 0; o < offsets; ++o, ++column)
        w.stacked.col(column) =
            window_of(channel, s, o, data.window.samples) / static_cast<float>(channel.levels.noise);
    }
    w.energy = w.stacked.colwise().squaredNorm();
    out.push_back(std::move(w));
  }
  return out;
}

EdgeData gather(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task) {
  EdgeData data;
  const double most = std::max(4.0, kMostRadiusMm * task.px_per_mm);
  const double widest = most * (1 + std::sin(std::max(0.0, task.model.lean_rad)));
  data.grid = make_grid(most);
  data.window = {kBehindPx + widest, kBeyondPx, 0};
  data.window.behind_px = std::ceil(data.window.behind_px);
  data.window.samples = static_cast<int>((data.window.behind_px + kBeyondPx) / StripWindow::kStepPx) + 1;
  ProfileCut cut;
  cut.px_per_mm = task.px_per_mm;
  cut.spacing_px = std::max(2.0, task.station_mm * task.px_per_mm);
  cut.behind_px = data.window.behind_px - kFirstOffsetPx;
  cut.beyond_px = kBeyondPx + kLastOffsetPx + 1;
  data.profiles = cut_profiles(strip, path, cut);
  const auto add_channel = [&](const Reading& reading, double blur_px, double doubt) {
    std::vector<Eigen::VectorXf> values;
    for (const PlanProfile& p : data.profiles) values.push_back(read_profile(p, reading));
    const Clear clear{widest + 2, kLastOffsetPx};
    Channel channel{learn_levels(strip, data.profiles, values, reading, clear), blur_px, std::move(values)};
    // A flat that flashes mirrors its light, and scatters an unknown and small part of it.
    if (task.model.flat_flashes) channel.levels.diffuse = 0;
    channel.levels.noise *= doubt;
    data.channels.push_back(std::move(channel));
  };
  add_channel(light_of_luma, 0, 1);
  add_channel(colour_reading(data.profiles), task.colour_blur_px,
              task.colour_blur_px > 0 ? kCoarseDoubt : kColourDoubt);
  std::vector<std::size_t> all(data.profiles.size());
  for (std::size_t k = 0; k < all.size(); ++k) all[k] = k;
  data.windows = stack_windows(data, all);
  return data;
}

/// The response of a channel.
StepResponse response_in(const Channel& channel, const StepResponse& response) {
  return {std::hypot(response.sigma_px, channel.blur_px), response.sharpening};
}

/// A design ready for many columns.
struct Basis {
  Eigen::MatrixXf q;      ///< orthonormal columns that span the design's
  double log_volume = 0;  ///< ln det(A'A) / 2: how sharply the levels are determined
};

Basis basis(const Eigen::MatrixXd& a) {
  // The priors' rows keep the columns well apart: their products lose nothing that single precision would show.
  const Eigen::LLT<Eigen::MatrixXd> llt(a.transpose() * a);
  Basis out;
  out.q = llt.matrixL().solve(a.transpose()).transpose().cast<float>();
  for (int k = 0; k < a.cols(); ++k) out.log_volume += std::log(std::max(1e-9, llt.matrixLLT()(k, k)));
  return out;
}

/// What a design leaves unexplained in all channels.
struct Explained {
  Eigen::MatrixXf residual;  ///< sums of squares |y|² - |Q'y|², in units of the noise: rows offsets, columns stations
  double log_volume = 0;
};

/// `design_of(channel)` is the channel's design.
template <typename DesignOf>
Explained explained(const EdgeData& data, const AllWindows& windows, const DesignOf& design_of) {
  Explained out;
  const auto rows = static_cast<Eigen::Index>(data.grid.offsets.size());
  for (std::size_t c = 0; c < data.channels.size(); ++c) {
    const Basis b = basis(design_of(data.channels[c]));
    const Windows& w = windows[c];
    const Eigen::VectorXf rest =
        (w.energy - Eigen::VectorXf((b.q.transpose() * w.stacked).colwise().squaredNorm())).cwiseMax(0.0F);
    const Eigen::Map<const Eigen::MatrixXf> table(rest.data(), rows, rest.size() / rows);
    out.residual = c == 0 ? Eigen::MatrixXf(table) : Eigen::MatrixXf(out.residual + table);
    out.log_volume += b.log_volume;
  }
  return out;
}

/// Some intact stations, evenly spread, and their windows.
struct Sampled {
  AllWindows windows;
  Eigen::Index count = 0;
};

Sampled sampled(const EdgeData& data) {
  constexpr std::size_t kStations = 16;
  std::vector<std::size_t> intact;
  for (std::size_t k = 0; k < data.profiles.size(); ++k) {
    if (data.profiles[k].intact) intact.push_back(k);
  }
  std::vector<std::size_t> few;
  const std::size_t every = std::max<std::size_t>(1, intact.size() / kStations);
  for (std::size_t k = 0; k < intact.size(); k += every) few.push_back(intact[k]);
  Sampled out;
  if (few.empty()) return out;
  out.windows = stack_windows(data, few);
  out.count = static_cast<Eigen::Index>(few.size());
  return out;
}

/// Residuals of some stations under one response: rows radii, columns stations, least over the offsets.
struct Tried {
  Eigen::MatrixXf residual;
  std::vector<double> log_volume;  ///< of every radius
};

/// `every`: of the grid's radii.
Tried tried(const EdgeData& data, const Sampled& some, const StripModel& model, const StepResponse& response,
            std::size_t every) {
  const auto& radii = data.grid.radii;
  Tried out{Eigen::MatrixXf(static_cast<Eigen::Index>((radii.size() + every - 1) / every), some.count), {}};
  for (Eigen::Index r = 0; r < out.residual.rows(); ++r) {
    const double radius = radii[static_cast<std::size_t>(r) * every];
    const Explained e = explained(data, some.windows, [&](const Channel& c) {
      return strip_design(data.window, radius, model, response_in(c, response), c.levels, LightShape::kEven);
    });
    out.log_volume.push_back(e.log_volume);
    out.residual.row(r) = e.residual.colwise().minCoeff();
  }
  return out;
}

/// Log evidence for a response, radii and levels integrated out (Laplace, as for the stations): the least residual
/// alone would always favour too sharp a response, which bends its levels to what is blurred.
double evidence(const Tried& t, double variance) {
  double sum = 0;
  for (Eigen::Index s = 0; s < t.residual.cols(); ++s) {
    Eigen::VectorXd log = -0.5 * kIndependentShare / variance * t.residual.col(s).cast<double>();
    for (Eigen::Index r = 0; r < log.size(); ++r) log[r] -= t.log_volume[r];
    const double most = log.maxCoeff();
    sum += most + std::log((log.array() - most).exp().sum());
  }
  return sum;
}

/// The blur of the highest evidence: looked for at every second of a row of blurs by every second radius, then at that
/// one and its neighbours by all radii.
StepResponse chosen_response(const EdgeData& data, const StripModel& model) {
  const Sampled some = sampled(data);
  StepResponse best;
  if (some.count == 0) return best;
  constexpr double kFirst = 0.6;
  constexpr double kRatio = 1.14;
  constexpr int kBlurs = 17;  // up to 4.9 px, beyond what tracing still takes
  const auto blur = [&](int k) { return kFirst * std::pow(kRatio, k); };
  const auto most_evident = [&](const std::vector<int>& blurs, std::size_t every) {
    std::vector<Tried> all(blurs.size());
    cv::parallel_for_({0, static_cast<int>(blurs.size())}, [&](const cv::Range& range) {
      for (int k = range.start; k < range.end; ++k) all[k] = tried(data, some, model, {blur(blurs[k]), 0}, every);
    });
    double least = std::numeric_limits<double>::infinity();
    for (const Tried& t : all) {
      const Eigen::RowVectorXf lowest = t.residual.colwise().minCoeff();
      least = std::min(least, median(std::vector<double>(lowest.data(), lowest.data() + lowest.size())));
    }
    const double variance = std::max(1.0, least / data.samples());
    std::vector<double> evidences;
    for (const Tried& t : all) evidences.push_back(evidence(t, variance));
    return blurs[static_cast<std::size_t>(std::ranges::max_element(evidences) - evidences.begin())];
  };
  std::vector<int> blurs;
  for (int k = 0; k < kBlurs; k += 2) blurs.push_back(k);
  const int coarse = most_evident(blurs, 2);
  blurs = {coarse};
  for (const int k : {coarse - 1, coarse + 1}) {
    if (k > 0 && k < kBlurs) blurs.push_back(k);
  }
  best.sigma_px = blur(most_evident(blurs, 1));
  return best;
}

/// Best a single soft step can do at every station, and where, against the base.
struct PlainFit {
  Eigen::VectorXf residual;
  Eigen::VectorXf place;
};

PlainFit fit_plain(const EdgeData& data, const StepResponse& response) {
  const auto stations = static_cast<Eigen::Index>(data.profiles.size());
  PlainFit out{Eigen::VectorXf::Constant(stations, std::numeric_limits<float>::infinity()),
               Eigen::VectorXf::Zero(stations)};
  for (const double wider : {1.0, 1.5, 2.2}) {
    const StepResponse soft{response.sigma_px * wider, wider > 1 ? 0 : response.sharpening};
    for (double inside = 0; inside < data.window.behind_px - kBehindPx; inside += 3) {
      const Eigen::MatrixXf rest = explained(data, data.windows, [&](const Channel& c) {
                                     return plain_design(data.window, -inside, response_in(c, soft), c.levels);
                                   }).residual;
      for (Eigen::Index s = 0; s < stations; ++s) {
        Eigen::Index o = 0;
        const float least = rest.col(s).minCoeff(&o);
        if (least >= out.residual[s]) continue;
        out.residual[s] = least;
        out.place[s] = static_cast<float>(data.grid.offsets[o] - inside);
      }
    }
  }
  return out;
}

/// An edge is filed straight and only loses metal: an outline ahead of the line of its neighbours is unlikely.
double beyond_line(double n_px, double px_per_mm) {
  const double spread = 0.5 + 0.03 * px_per_mm;
  return n_px > 0 ? 0.5 * n_px * n_px / (spread * spread) : 0;
}

/// Residuals of all radii: one table (offsets x radii) a station.
struct StripFits {
  std::vector<Eigen::MatrixXd> residual;
  std::vector<double> log_volume;  ///< of every radius
};

StripFits fit_strips(const EdgeData& data, const StripModel& model, const StepResponse& response, LightShape shape) {
  const auto offsets = static_cast<Eigen::Index>(data.grid.offsets.size());
  const auto radii = static_cast<Eigen::Index>(data.grid.radii.size());
  StripFits out;
  out.residual.assign(data.profiles.size(), Eigen::MatrixXd(offsets, radii));
  for (Eigen::Index r = 0; r < radii; ++r) {
    const Explained e = explained(data, data.windows, [&](const Channel& c) {
      return strip_design(data.window, data.grid.radii[r], model, response_in(c, response), c.levels, shape);
    });
    out.log_volume.push_back(e.log_volume);
    for (std::size_t s = 0; s < data.profiles.size(); ++s) {
      out.residual[s].col(r) = e.residual.col(static_cast<Eigen::Index>(s)).cast<double>();
    }
  }
  return out;
}

/// Variance of a sample about its model, in units of the noise: that, or what the models of this edge leave
/// unexplained.
double unexplained(const EdgeData& data, const StripFits& fits) {
  std::vector<double> least;
  for (std::size_t s = 0; s < fits.residual.size(); ++s) {
    if (data.profiles[s].intact) least.push_back(fits.residual[s].minCoeff() / data.samples());
  }
  return std::max(1.0, least.empty() ? 0 : median(least));
}

/// Log likelihoods with the levels integrated out (Laplace: MacKay, Information Theory, Inference and Learning
/// Algorithms, 2003, eq. 28.10): a wide strip that bends its levels to noise must not beat a narrow one.
std::vector<StationLikelihood> likelihoods(const EdgeData& data, const StripFits& fits, double variance,
                                           const RoundingTask& task) {
  const double ridge = 1 - (std::sin(task.model.start_rad) + std::sin(task.model.horizon_rad)) / 2;
  std::vector<StationLikelihood> out;
  for (std::size_t s = 0; s < fits.residual.size(); ++s) {
    const PlanProfile& p = data.profiles[s];
    Eigen::MatrixXd log = Eigen::MatrixXd::Zero(fits.residual[s].rows(), fits.residual[s].cols());
    if (p.intact) {
      const double local = std::max(variance, fits.residual[s].minCoeff() / data.samples());
      log = -0.5 * kIndependentShare / local * fits.residual[s];
      for (Eigen::Index r = 0; r < log.cols(); ++r) log.col(r).array() -= fits.log_volume[r];
      for (Eigen::Index o = 0; o < log.rows(); ++o) {
        log.row(o).array() -= beyond_line(p.beyond_line_px + data.grid.offsets[o], task.px_per_mm);
      }
    }
    const bool linked = s == 0 || std::abs(p.base_n - data.profiles[s - 1].base_n) < 1;
    out.push_back({refined(log, data.grid, ridge), linked});
  }
  return out;
}

/// Levels of a station's answer in luma, as StripColumn.
Eigen::VectorXd solved_levels(const EdgeData& data, std::size_t station, const StripAnswer& answer,
                              const StripModel& model, const StepResponse& response, LightShape shape) {
  const auto shift = std::lround((answer.outline - kFirstOffsetPx) / StripWindow::kStepPx);
  const Eigen::VectorXf y =
      window_of(data.channels.front(), station, static_cast<std::size_t>(shift), data.window.samples);
  const Eigen::MatrixXd a = strip_design(data.window, answer.radius, model, response, data.luma_levels(), shape);
  return a.householderQr().solve(y.cast<double>());
}

/// Strips at fewer stations are accidents.
constexpr std::size_t kEnough = 8;

/// The middle of what the strips along an edge show: one light for all.
std::optional<LitShares> common_shares(const std::vector<LitShares>& all) {
  if (all.size() < kEnough) return std::nullopt;
  LitShares out{};
  for (int k = 0; k < kLitNodes; ++k) {
    std::vector<double> node;
    for (const LitShares& shares : all) node.push_back(shares[k]);
    out[k] = median(std::move(node));
  }
  return out;
}

/// `widest` of the grid: an answer near it has run away.
StripState state_of(double gain, const StripAnswer& answer, const Prominence& prominent, double widest) {
  const double u_rel = answer.u_radius / answer.radius;
  // A gain of 4 in log likelihood: odds of 50 to 1 that there is a strip at all.
  const bool settled = u_rel < 0.45 && answer.radius < 0.8 * widest;
  if (gain < 4 || !settled || prominent.any < 1) return StripState::kUnlit;
  return u_rel < 0.2 && prominent.bright > 1.5 ? StripState::kLit : StripState::kPart;
}

/// What one shape of light makes of the strips along an edge.
struct StripReading {
  StripFits fits;
  double variance = 0;
  std::vector<StripAnswer> answers;
};

StripReading read_strips(const EdgeData& data, const RoundingTask& task, const StepResponse& response,
                         LightShape shape) {
  StripReading out;
  out.fits = fit_strips(data, task.model, response, shape);
  out.variance = unexplained(data, out.fits);
  const double spacing_mm = std::max(2.0, task.station_mm * task.px_per_mm) / task.px_per_mm;
  out.answers = joined(likelihoods(data, out.fits, out.variance, task), data.grid.refined(), spacing_mm / 0.05);
  return out;
}

/// The even light's answer with the middle of both radii; how far they lie apart is not in its spread, it is the same
/// error all along the edge. An even light tells strips and their ends best: a steady one can follow any soft step.
StripAnswer between(const StripAnswer& even, const StripAnswer& steady) {
  StripAnswer out = even;
  out.radius = (even.radius + steady.radius) / 2;
  out.u_radius = (even.u_radius + steady.u_radius) / 2;
  out.radius_limit = std::max(even.radius_limit, steady.radius_limit);
  return out;
}

/// Everything that the fit of one edge found.
struct EdgeReading {
  EdgeData data;
  StepResponse response;
  StripReading even;
  StripReading steady;
  PlainFit plain;
};

EdgeReading read_edge(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task) {
  EdgeReading out;
  out.data = gather(strip, path, task);
  out.response = chosen_response(out.data, task.model);
  const std::array<std::function<void()>, 3> parts{
      [&] { out.even = read_strips(out.data, task, out.response, LightShape::kEven); },
      [&] { out.steady = read_strips(out.data, task, out.response, LightShape::kSteady); },
      [&] { out.plain = fit_plain(out.data, out.response); }};
  cv::parallel_for_({0, static_cast<int>(parts.size())}, [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) parts[k]();
  });
  return out;
}

StripState strip_state(const EdgeReading& edge, std::size_t k, const StripModel& model) {
  const double least = edge.even.fits.residual[k].minCoeff();
  const double local = std::max(edge.even.variance, least / edge.data.samples());
  const double gain = 0.5 * kIndependentShare * (edge.plain.residual[static_cast<Eigen::Index>(k)] - least) / local;
  const StripAnswer& answer = edge.even.answers[k];
  const Eigen::VectorXd levels = solved_levels(edge.data, k, answer, model, edge.response, LightShape::kEven);
  return state_of(gain, answer, prominence(levels, edge.data.luma_levels(), model.flat_flashes),
                  edge.data.grid.radii.back());
}

EdgeStation station_at(const EdgeReading& edge, std::size_t k, const EdgeStrip& strip, const EdgePath& path,
                       const StripModel& model) {
  const PlanProfile& p = edge.data.profiles[k];
  const StripAnswer a = between(edge.even.answers[k], edge.steady.answers[k]);
  EdgeStation out;
  const double s = strip.s(p.row);
  out.line_px = strip.frame.px(s, path.line_px[p.row]);
  // Where the path was given up, a wall or dirt stands before the edge.
  if (p.intact && p.contrast) out.strip = strip_state(edge, k, model);
  const double full = 1 + std::sin(model.lean_rad);
  out.strip_px = a.radius * full;
  out.u_strip_px = a.u_radius * full;
  out.strip_limit_px = a.radius_limit * full;
  const bool lit = out.strip != StripState::kUnlit;
  const double seen = p.base_n + (lit ? a.outline : edge.plain.place[static_cast<Eigen::Index>(k)]);
  out.outline_px = strip.frame.px(s, p.intact ? seen : path.n_px[p.row]);
  out.outline_seen = lit || p.contrast;
  out.u_outline_px = lit ? a.u_outline : 0.5;
  return out;
}

/// What the lit strips of an edge have in common.
void tell_light(const EdgeReading& edge, const std::vector<EdgeStation>& stations, StripModel& model) {
  std::vector<LitShares> shares;
  std::vector<double> apart;  // of the two shapes' radii from their middle, as shares of it
  for (std::size_t k = 0; k < stations.size(); ++k) {
    if (stations[k].strip == StripState::kUnlit) continue;
    const double steady = edge.steady.answers[k].radius;
    const double even = edge.even.answers[k].radius;
    apart.push_back(std::abs(steady - even) / (steady + even));
    if (stations[k].strip != StripState::kLit) continue;
    const Eigen::VectorXd levels =
        solved_levels(edge.data, k, edge.steady.answers[k], model, edge.response, LightShape::kSteady);
    if (const auto lit = lit_shares(levels)) shares.push_back(*lit);
  }
  if (!apart.empty()) model.u_light = median(std::move(apart)) * kRectangular;
  if (const auto common = common_shares(shares)) model.partly = lit_band(*common, model);
}

}  // namespace

RoundingFit fit_rounding(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task) {
  const EdgeReading edge = read_edge(strip, path, task);
  RoundingFit out;
  out.model = task.model;
  out.model.blur_px = edge.response.sigma_px;
  for (std::size_t k = 0; k < edge.data.profiles.size(); ++k) {
    out.stations.push_back(station_at(edge, k, strip, path, task.model));
    if (out.stations.back().strip == StripState::kUnlit) continue;
    const PlanProfile& p = edge.data.profiles[k];
    out.ends.push_back({p.row, p.base_n + edge.even.answers[k].outline});
  }
  tell_light(edge, out.stations, out.model);
  return out;
}

}  // namespace glintline
