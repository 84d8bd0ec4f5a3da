#include "trace/near_rim.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "math/blurred_step.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Standard deviation of the logarithm of the blur about what is known of it.
constexpr double kUBlur = 0.15;
/// Values half a sample apart share the blur, colours the file's blocks: of n about n / 8 are independent.
constexpr double kIndependentShare = 0.12;
/// Texture and shading are shares of the light: standard deviation, and the share of the field's light under which
/// there is no finer grain.
constexpr double kTexture = 0.03;
constexpr double kGrain = 0.2;
/// Before seeing it: tops look like the field more often than not, at the few degrees at which they are seen.
constexpr double kMirroring = 0.75;
constexpr double kSurest = 0.95;

/// Levels of light: the field and its shade before the outline, the top, the steel behind and its rim's shade.
enum Level { kField, kFoot, kTop, kSteel, kRim, kLevels };
using Levels = Eigen::Matrix<double, kLevels, 1>;
/// Ways over which both shades fade, samples.
constexpr double kFootSamples = 4;
constexpr double kRimSamples = 3;

/// One colour's values with what is known of its levels.
struct Channel {
  const std::vector<double>& values;
  Levels mean;
  Levels precision;
  double wider = 0;  ///< of its blur
};

Channel channel_of(const std::vector<double>& values, double wider) {
  const auto few = static_cast<std::ptrdiff_t>(std::max<std::size_t>(3, values.size() / 6));
  const double field = std::max(1e-4, median({values.begin(), values.begin() + few}));
  const double steel = std::max(1e-4, median({values.end() - few, values.end()}));
  const double most = std::max(field, steel);
  Channel c{values, {}, {}, wider};
  c.mean << field, 0, 0.5 * (field + steel), steel, 0;
  // A shade of the steel on the field takes some tenth; a rounded rim may be as dark as the field, or flash.
  Levels spread;
  spread << 0.3 * most, 0.15 * field + 0.01 * most, 0.7 * most, 0.5 * most, steel + 0.01 * most;
  c.precision = spread.array().square().inverse();
  return c;
}

/// Where outline and bare steel lie, and the blur there.
struct RimPlaces {
  double outline = 0;
  double bare = 0;
  double sigma = 1;
};

/// What a channel's best levels leave over, with their priors, and the logarithm of the levels' volume.
struct FittedLevels {
  double misfit = 0;
  double log_volume = 0;
};

FittedLevels fit_levels(const RimLight& light, const Channel& c, const RimPlaces& at, double variance) {
  const double s = std::hypot(at.sigma, c.wider);
  Eigen::Matrix<double, kLevels, kLevels> normal = c.precision.asDiagonal();
  Levels right = c.precision.cwiseProduct(c.mean);
  double squares = c.precision.dot(c.mean.cwiseProduct(c.mean));
  for (std::size_t i = 0; i < c.values.size(); ++i) {
    const double t = light.at(i);
    const double out = blurred_step((t - at.outline) / s);
    const double in = blurred_step((t - at.bare) / s);
    Levels row;
    row << 1 - out, (1 - out) * std::exp(std::min(0.0, t - at.outline) / kFootSamples), out - in, in,
        in * std::exp(-std::max(0.0, t - at.bare) / kRimSamples);
    const double y = c.values[i];
    const double grain = y + kGrain * c.mean[kField];
    const double weight = kIndependentShare / (variance * grain * grain);
    normal.noalias() += weight * row * row.transpose();
    right += weight * y * row;
    squares += weight * y * y;
  }
  const Eigen::LLT<Eigen::Matrix<double, kLevels, kLevels>> llt(normal);
  FittedLevels fitted;
  fitted.misfit = std::max(0.0, squares - right.dot(llt.solve(right)));
  for (int k = 0; k < kLevels; ++k) fitted.log_volume += std::log(llt.matrixLLT()(k, k));
  return fitted;
}

/// One way in which the rims may lie, and how probable it is before seeing the light.
struct Arrangement {
  RimPlaces at;
  bool near = false;
  double log_prior = 0;
};

std::vector<Arrangement> arrangements(const SeenTop& top, const RimBlur& blur) {
  constexpr double kPlaceStep = 0.5;
  constexpr int kPlaces = 3;
  constexpr double kMostWidths = 2;  // standard uncertainties; a blur at most from one width to the next
  const int widths = std::max(2, static_cast<int>(std::ceil(kMostWidths * top.u / blur.sigma)));
  std::vector<Arrangement> all;
  for (const bool near : {true, false}) {
    for (int p = -kPlaces; p <= kPlaces; ++p) {
      for (int w = -widths; w <= widths; ++w) {
        const double wider = kMostWidths * w / widths;
        for (int b = -1; b <= 1; ++b) {
          const double place = kPlaceStep * p * blur.sigma;
          const double width = std::max(0.0, top.width + wider * top.u);
          const double sigma = blur.sigma * std::exp(1.5 * kUBlur * b);
          const double squares = std::pow(kPlaceStep * p, 2) + wider * wider + 2.25 * b * b;
          all.push_back({near ? RimPlaces{place - width, place, sigma} : RimPlaces{place, place + width, sigma}, near,
                         std::log(near ? kMirroring : 1 - kMirroring) - 0.5 * squares});
        }
      }
    }
  }
  return all;
}

}  // namespace

double chance_of_near_rim(const RimLight& light, const SeenTop& top, const RimBlur& blur) {
  const std::array<Channel, 2> channels{channel_of(light.grey, 0), channel_of(light.field, blur.colour)};
  const std::vector<Arrangement> all = arrangements(top, blur);
  std::vector<double> log;
  for (const Arrangement& a : all) log.push_back(a.log_prior);
  for (const Channel& c : channels) {
    // What none of them explains is no noise of the best: the variance that leaves it as probable as any.
    double least = std::numeric_limits<double>::infinity();
    for (const Arrangement& a : all) least = std::min(least, fit_levels(light, c, a.at, kTexture * kTexture).misfit);
    const double independent = kIndependentShare * static_cast<double>(c.values.size());
    const double variance = kTexture * kTexture * std::max(1.0, least / independent);
    for (std::size_t i = 0; i < all.size(); ++i) {
      const FittedLevels f = fit_levels(light, c, all[i].at, variance);
      log[i] -= 0.5 * f.misfit + f.log_volume;
    }
  }
  const double most = *std::max_element(log.begin(), log.end());
  double near = 0;
  double sum = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const double weight = std::exp(log[i] - most);
    sum += weight;
    if (all[i].near) near += weight;
  }
  return std::clamp(near / sum, 1 - kSurest, kSurest);
}

std::optional<RimLight> crest_light(const CutterScene& s, const std::vector<Point2>& bare, double from, double to) {
  constexpr int kLeastColumns = 5;
  const auto columns = crest_columns(s, bare);
  return columns ? light_across(s, *columns, from, to, kLeastColumns) : std::nullopt;
}

}  // namespace glintline
