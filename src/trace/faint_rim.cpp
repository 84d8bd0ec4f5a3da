#include "trace/faint_rim.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "math/blurred_step.h"
#include "math/line_fit.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Least changes of light that are believed, shares of the field's: a stack's grain and its field's unevenness are a
/// few times less. Near steel the remains of the camera's sharpening dim the field as well (by experiment:
/// tests/accuracy).
constexpr double kLeastStep = 0.06;
constexpr double kLeastNearStep = 0.18;
/// What is brighter than the field by so much is no shadow.
constexpr double kBrighter = 0.1;
/// By how much the sine between light and the field's colour grows at least on steel: grey light of 2 % of the field's,
/// ten times what the mean of a stretch leaves of noise.
constexpr double kLeastTint = 0.02;
/// How much better a step of the picture's own blur fits than one of two and a half times it, and than none.
constexpr double kSharper = 0.8;
constexpr double kSeen = 0.35;

/// A straight course of light with a blurred step in it, fitted by least squares.
struct SteppedCourse {
  double step = 0;
  double misfit = 0;  ///< root mean square
};

/// `sigma` 0: no step.
SteppedCourse fit_course(const RimLight& light, const std::vector<double>& values, double at, double sigma,
                         double before, double beyond) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Identity() * 1e-12;
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  double squares = 0;
  int n = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double t = light.at(i) - at;
    if (t < -before || t > beyond) continue;
    const Eigen::Vector3d row(1, t, sigma > 0 ? blurred_step(t / sigma) : 0);
    normal += row * row.transpose();
    right += values[i] * row;
    squares += values[i] * values[i];
    ++n;
  }
  const Eigen::Vector3d solved = normal.ldlt().solve(right);
  return {solved[2], std::sqrt(std::max(0.0, squares - right.dot(solved)) / std::max(1, n))};
}

/// Median of the values from `from` to `to`; 0 where there are none.
double median_between(const RimLight& light, const std::vector<double>& values, double from, double to) {
  std::vector<double> levels;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (light.at(i) >= from && light.at(i) <= to) levels.push_back(values[i]);
  }
  return levels.empty() ? 0 : median(std::move(levels));
}

}  // namespace

std::optional<StepAhead> step_ahead(const RimLight& light, double blur, double smear) {
  // The course of light is looked at over so much on either side, clear of the bare steel's own rise.
  const double before = 4 * blur + 2;
  const double beyond = 3 * blur + 1;
  const double nearest = std::max(3 * blur, 3.5);
  const std::vector<double> tint = light.tints();
  std::optional<StepAhead> best;
  double gained = 0;
  for (double at = light.first + before; at <= -nearest; at += RimLight::kStep) {
    const bool near = at > -smear;
    const std::vector<double>& values = near ? light.grey : light.field;
    const double level = median_between(light, values, at - before, at - 2 * blur);
    if (!(level > 0)) continue;
    const double until = std::min(beyond, -0.8 * blur - at);
    const SteppedCourse sharp = fit_course(light, values, at, blur, before, until);
    const double share = sharp.step / level;
    if (std::abs(share) < (near ? kLeastNearStep : kLeastStep)) continue;
    if (sharp.misfit > kSharper * fit_course(light, values, at, 2.5 * blur, before, until).misfit) continue;
    const double none = fit_course(light, values, at, 0, before, until).misfit;
    if (sharp.misfit > kSeen * none) continue;
    const double gain = (none - sharp.misfit) / level;
    if (gain <= gained) continue;
    gained = gain;
    const double field = median_between(light, tint, at - before, at - 2 * blur);
    const double strip =
        median_between(light, tint, at + 1.5 * blur, std::max(at + 1.5 * blur + RimLight::kStep, -smear));
    best = StepAhead{at, share, share > kBrighter || strip > field + kLeastTint};
  }
  return best;
}

std::vector<Point2> faint_rim(const CutterScene& s, const std::vector<Point2>& outline, double reach) {
  constexpr int kStretches = 6;
  constexpr int kLeastColumns = 6;
  constexpr double kParallel = 1.5;  // samples
  const auto fit = fit_line(outline, {.loss = Loss::kTukey, .least_sigma = 0.5});
  if (!fit.ok()) return {};
  struct Stretch {
    int from;
    int to;
    StepAhead step;
  };
  std::vector<Stretch> seen;
  std::vector<double> places;
  const int from = static_cast<int>(std::ceil(outline.front().x()));
  const int length = static_cast<int>(outline.back().x()) + 1 - from;
  // Neighbours share their blur, and so many columns leave hardly any grain.
  constexpr int kEnoughColumns = 24;
  const int every = std::max(1, length / (kStretches * kEnoughColumns));
  const auto crossing = [&](int x) {
    return (x - from) % every == 0 ? std::optional(on_line(fit->line, x).y()) : std::nullopt;
  };
  for (int k = 0; k < kStretches; ++k) {
    const Stretch part{from + length * k / kStretches, from + length * (k + 1) / kStretches - 1, {}};
    const auto light =
        light_across(s, {part.from, part.to, crossing}, -reach - 4 * s.blur - 2, 3 * s.blur, kLeastColumns);
    const auto step = light ? step_ahead(*light, s.blur, s.colour_smear()) : std::nullopt;
    if (!step) continue;
    seen.push_back({part.from, part.to, *step});
    if (step->steel) places.push_back(step->at);
  }
  if (2 * static_cast<int>(places.size()) < kStretches) return {};
  const double usual = median(std::move(places));
  std::vector<Point2> rim;
  int agreeing = 0;
  for (const Stretch& stretch : seen) {
    if (std::abs(stretch.step.at - usual) > kParallel) continue;
    ++agreeing;
    for (int x = stretch.from; x <= stretch.to; x += 2) {
      rim.push_back(on_line(fit->line, x) + Point2(0, stretch.step.at));
    }
  }
  if (2 * agreeing < kStretches) rim.clear();
  return rim;
}

}  // namespace glintline
