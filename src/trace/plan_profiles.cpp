#include "trace/plan_profiles.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <span>

#include "math/linear_light.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// An outline that keeps within this of its surroundings is no chip, nor a chip's wall.
constexpr double kIntactMm = 0.06;
constexpr double kIntactPx = 2.5;
/// Stretch over which the path is smoothed, and over which a chip's surroundings are looked at, to either side.
constexpr double kSmoothMm = 0.25;
constexpr double kAroundMm = 0.8;

std::vector<bool> intact_rows(const EdgePath& path, double px_per_mm) {
  const double chip_px = std::max(kIntactPx, kIntactMm * px_per_mm);
  const int guard = std::max(2, static_cast<int>(kIntactMm * px_per_mm));
  const int rows = static_cast<int>(path.n_px.size());
  const int reach = static_cast<int>(kAroundMm * px_per_mm);
  std::vector<bool> out(rows, true);
  double around = 0;
  for (int j = 0; j < rows; ++j) {
    if (j % 8 == 0) {
      const auto first = path.n_px.begin() + std::max(0, j - reach);
      const auto last = path.n_px.begin() + std::min(rows, j + reach + 1);
      around = percentile(std::vector<double>(first, last), 0.6);
    }
    if (std::abs(path.n_px[j] - around) < chip_px) continue;
    for (int k = std::max(0, j - guard); k <= std::min(rows - 1, j + guard); ++k) out[k] = false;
  }
  return out;
}

/// Path smoothed over the undamaged rows nearby, n; the straight line where there are none. Never far ahead of the
/// line: an edge is filed straight and only loses metal.
double smooth_path(const EdgePath& path, int row, int reach, const std::vector<bool>& intact) {
  constexpr double kMostBeyondPx = 1;
  std::vector<double> near;
  const int rows = static_cast<int>(path.n_px.size());
  for (int j = std::max(0, row - reach); j <= std::min(rows - 1, row + reach); ++j) {
    if (intact[j] && path.contrast[j]) near.push_back(path.n_px[j]);
  }
  const double n = static_cast<int>(near.size()) * 2 > reach ? median(near) : path.line_px[row];
  return std::min(n, path.line_px[row] + kMostBeyondPx);
}

std::vector<cv::Vec3f> mean_profile(const EdgeStrip& strip, int row, int half, double first_n, int samples) {
  std::vector<cv::Vec3f> out(samples, cv::Vec3f::all(0));
  const int from = std::max(0, row - half);
  const int to = std::min(strip.linear.rows - 1, row + half);
  for (int j = from; j <= to; ++j) {
    const cv::Vec3f* line = strip.linear.ptr<cv::Vec3f>(j);
    for (int i = 0; i < samples; ++i) {
      const double at = std::clamp(strip.column(first_n + i * StripWindow::kStepPx), 0.0, strip.linear.cols - 1.001);
      const int k = static_cast<int>(at);
      const auto f = static_cast<float>(at - k);
      for (int c = 0; c < 3; ++c) {
        const float v = line[k][c] * (1 - f) + line[k + 1][c] * f;
        out[i][c] += std::isfinite(v) ? v : 0;
      }
    }
  }
  for (cv::Vec3f& v : out) v /= static_cast<float>(to - from + 1);
  return out;
}

/// No zone is quite even and no blur quite Gaussian: the model itself is believed to this share of the brightest level.
constexpr double kModelShare = 0.03;

/// Variances of the rows around the profiles.
struct Texture {
  std::vector<double> grain;
  std::vector<double> waves;
};

void add_texture(Texture& texture, const EdgeStrip& strip, const PlanProfile& p, const Reading& reading, double from_n,
                 double to_n) {
  constexpr int kCoarse = 6;  // samples, 3 px: the finest wave that a strip could be taken for
  constexpr int kHalf = 2;
  std::vector<double> values;
  for (double n = p.base_n + from_n; n < p.base_n + to_n; n += strip.step_n) {
    const int column = static_cast<int>(std::lround(strip.column(n)));
    if (column < 0 || column >= strip.linear.cols) continue;
    cv::Vec3f sum = cv::Vec3f::all(0);
    int used = 0;
    for (int j = std::max(0, p.row - kHalf); j <= std::min(strip.linear.rows - 1, p.row + kHalf); ++j, ++used) {
      sum += strip.linear.at<cv::Vec3f>(j, column);
    }
    if (std::isfinite(sum[0] + sum[1] + sum[2])) values.push_back(reading(sum / used));
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

}  // namespace

std::vector<PlanProfile> cut_profiles(const EdgeStrip& strip, const EdgePath& path, const ProfileCut& cut) {
  const std::vector<bool> intact = intact_rows(path, cut.px_per_mm);
  const double spacing = cut.spacing_px / strip.step_s;
  const int half = std::max(1, static_cast<int>(spacing / 2 + 0.5));
  const int reach = static_cast<int>(kSmoothMm * cut.px_per_mm);
  const int samples = static_cast<int>((cut.behind_px + cut.beyond_px) / StripWindow::kStepPx);
  std::vector<PlanProfile> out;
  for (double at = 0; at < strip.linear.rows; at += spacing) {
    PlanProfile p;
    p.row = static_cast<int>(at);
    p.base_n = smooth_path(path, p.row, reach, intact);
    p.first_n = p.base_n - cut.behind_px;
    p.beyond_line_px = p.base_n - path.line_px[p.row];
    p.values = mean_profile(strip, p.row, half, p.first_n, samples);
    p.intact = intact[p.row];
    p.contrast = path.contrast[p.row];
    out.push_back(std::move(p));
  }
  return out;
}

double light_of_luma(const cv::Vec3f& linear) {
  return linear_of(luma(srgb_code(linear[0]), srgb_code(linear[1]), srgb_code(linear[2])));
}

Reading colour_reading(const std::vector<PlanProfile>& profiles) {
  const auto off_grey = [](const cv::Vec3f& v) -> Eigen::RowVector3f {
    return Eigen::RowVector3f(v[0], v[1], v[2]).array() - static_cast<float>(light_of_luma(v));
  };
  Eigen::Matrix3f scatter = Eigen::Matrix3f::Zero();
  Eigen::RowVector3f ground = Eigen::RowVector3f::Zero();
  for (const PlanProfile& p : profiles) {
    Eigen::MatrixXf off(static_cast<Eigen::Index>(p.values.size()), 3);
    for (Eigen::Index i = 0; i < off.rows(); ++i) off.row(i) = off_grey(p.values[i]);
    ground += off.bottomRows(8).colwise().mean();
    off.rowwise() -= off.colwise().mean().eval();
    scatter += off.transpose() * off;
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3f> solver(scatter);
  Eigen::RowVector3f axis = solver.eigenvectors().col(2).transpose();
  if (axis.dot(ground) < 0) axis = -axis;
  return [=](const cv::Vec3f& v) { return axis.dot(off_grey(v)); };
}

Eigen::VectorXf read_profile(const PlanProfile& profile, const Reading& reading) {
  Eigen::VectorXf out(static_cast<Eigen::Index>(profile.values.size()));
  for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = static_cast<float>(reading(profile.values[i]));
  return out;
}

StripLevels learn_levels(const EdgeStrip& strip, const std::vector<PlanProfile>& profiles,
                         const std::vector<Eigen::VectorXf>& values, const Reading& reading, const Clear& clear) {
  constexpr double kStretchPx = 24;
  constexpr double kLeastShare = 0.003;  // of the brightest: an 8-bit picture's own steps
  Texture flat;
  Texture ground;
  std::vector<double> tops;
  std::vector<double> grounds;
  std::vector<double> flats;
  const double ground_end = strip.n(strip.linear.cols - 1);
  for (const Eigen::VectorXf& v : values) {
    tops.push_back(v.maxCoeff());
    grounds.push_back(std::max(0.0F, v.tail(8).mean()));
    flats.push_back(std::max(0.0F, v.head(8).mean()));
  }
  for (const PlanProfile& p : profiles) {
    if (!p.intact) continue;
    add_texture(flat, strip, p, reading, -clear.behind_px - kStretchPx, -clear.behind_px);
    add_texture(ground, strip, p, reading, clear.beyond_px,
                std::min(ground_end - p.base_n, clear.beyond_px + kStretchPx));
  }
  StripLevels levels;
  levels.scale = std::max(0.02, median(tops));
  const double least = kLeastShare * levels.scale;
  levels.ground = std::max(least, median(grounds));
  levels.diffuse = median(flats);
  const auto size = [&](const std::vector<double>& v) {
    return v.empty() ? least : std::max(least, std::sqrt(median(v)));
  };
  levels.flat_wave = size(flat.waves);
  levels.ground_wave = size(ground.waves);
  levels.noise = std::hypot(size(flat.grain), kModelShare * levels.scale);
  return levels;
}

}  // namespace glintline
