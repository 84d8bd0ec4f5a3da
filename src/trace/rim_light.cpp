#include "trace/rim_light.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "math/linear_light.h"
#include "math/prior_fit.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Encoded levels of a column from `top` to `bottom`, the camera's sharpening taken out.
std::array<std::vector<double>, 3> column_codes(const CutterScene& s, int x, int top, int bottom) {
  std::array<std::vector<double>, 3> codes;
  for (int y = top; y <= bottom; ++y) {
    const auto& code = s.picture.at<cv::Vec3b>(y, x);
    for (int c = 0; c < 3; ++c) codes[c].push_back(code[c]);
  }
  for (auto& channel : codes) s.sharpening.take_out(channel);
  return codes;
}

/// A gauge's crest: the smooth curve through places on it.
struct Crest {
  double from = 0;
  double to = 0;
  Eigen::Matrix<double, 5, 1> terms;

  [[nodiscard]] Eigen::Matrix<double, 5, 1> row(double x) const {
    const double t = (2 * x - from - to) / std::max(1.0, to - from);
    Eigen::Matrix<double, 5, 1> r;
    r << 1, t, t * t, t * t * t, t * t * t * t;
    return r;
  }
  [[nodiscard]] double y(double x) const { return terms.dot(row(x)); }
};

std::optional<Crest> crest_of(const CutterScene& s, const std::vector<Point2>& places) {
  constexpr double kCrestMm = 0.2;
  constexpr double kBendMm = 0.3;
  constexpr std::size_t kLeast = 8;
  constexpr double kScatter = 0.3;  // samples
  if (places.size() < kLeast) return std::nullopt;
  std::vector<double> heights;
  for (const Point2& p : places) heights.push_back(p.y());
  const double high = percentile(heights, 0.1);
  std::vector<Point2> points;
  for (const Point2& p : places) {
    if (p.y() < high + s.px(kCrestMm)) points.push_back(p);
  }
  if (points.size() < kLeast) return std::nullopt;
  Crest crest{points.front().x(), points.back().x(), {}};
  Observations<5> seen;
  for (const Point2& p : points) seen.add(crest.row(p.x()), p.y());
  Prior<5> prior;
  prior.mean << high, 0, 0, 0, 0;
  prior.u.tail<4>().setConstant(s.px(kBendMm));
  const auto start = fit_with_prior(seen, prior, prior.mean, {.loss = Loss::kHuber, .least_sigma = kScatter});
  crest.terms = fit_with_prior(seen, prior, start.value, {.least_sigma = kScatter}).value;
  return crest;
}

}  // namespace

std::vector<double> RimLight::tints() const {
  std::vector<double> sines;
  for (std::size_t i = 0; i < field.size(); ++i) {
    sines.push_back(other[i] / std::max(1e-5, std::hypot(field[i], other[i])));
  }
  return sines;
}

std::optional<OutlineColumns> crest_columns(const CutterScene& s, const std::vector<Point2>& places) {
  constexpr double kMostSlope = 0.6;
  const auto crest = crest_of(s, places);
  if (!crest) return std::nullopt;
  const auto crossing = [crest](int x) -> std::optional<double> {
    if (std::abs(crest->y(x + 0.5) - crest->y(x - 0.5)) > kMostSlope) return std::nullopt;
    return crest->y(x);
  };
  return OutlineColumns{static_cast<int>(std::ceil(crest->from)), static_cast<int>(crest->to), crossing};
}

std::optional<RimLight> light_across(const CutterScene& s, const OutlineColumns& columns, double from, double to,
                                     int least) {
  const auto count = static_cast<std::size_t>((to - from) / RimLight::kStep) + 1;
  std::vector<double> grey(count, 0.0);
  std::vector<cv::Vec3d> colour(count, cv::Vec3d(0, 0, 0));
  int taken = 0;
  for (int x = std::max(0, columns.from); x <= columns.to && x < s.picture.cols; ++x) {
    const auto crossing = columns.crossing(x);
    if (!crossing) continue;
    const double start = *crossing + from;
    const int top = static_cast<int>(std::floor(start));
    const int bottom = static_cast<int>(std::ceil(*crossing + to)) + 1;
    if (top < 0 || bottom >= s.picture.rows) continue;
    const auto codes = column_codes(s, x, top, bottom);
    const auto light = [&](std::size_t k) {
      return cv::Vec3d(linear_of(codes[0][k]), linear_of(codes[1][k]), linear_of(codes[2][k]));
    };
    const auto brightness = [&](std::size_t k) { return linear_of(luma(codes[0][k], codes[1][k], codes[2][k])); };
    for (std::size_t i = 0; i < count; ++i) {
      const double at = start - top + RimLight::kStep * static_cast<double>(i);
      const auto k = static_cast<std::size_t>(at);
      const double part = at - static_cast<double>(k);
      grey[i] += (1 - part) * brightness(k) + part * brightness(k + 1);
      colour[i] += (1 - part) * light(k) + part * light(k + 1);
    }
    ++taken;
  }
  if (taken < std::max(1, least)) return std::nullopt;
  const cv::Vec3d direction = s.field->direction;
  const auto strongest = std::max_element(direction.val, direction.val + 3) - direction.val;
  RimLight out;
  out.first = from;
  for (std::size_t i = 0; i < count; ++i) {
    const cv::Vec3d mean = colour[i] / taken;
    const double along = mean.dot(direction);
    out.grey.push_back(grey[i] / taken);
    out.field.push_back(mean[static_cast<int>(strongest)]);
    out.other.push_back(std::sqrt(std::max(0.0, mean.dot(mean) - along * along)));
  }
  return out;
}

}  // namespace glintline
