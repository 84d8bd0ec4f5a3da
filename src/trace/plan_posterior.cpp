#include "trace/plan_posterior.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

/// Change of ln r and of the outline (px) in 0.05 mm: wear varies over half a millimetre, not over a twentieth.
constexpr double kRadiusDrift = 0.08;
constexpr double kOutlineDriftPx = 0.2;
constexpr int kReach = 4;

/// Weights of grid distances 0, 1, 2, ...
std::vector<double> drift_kernel(double spread, double grid_step) {
  std::vector<double> out;
  for (int k = 0; k <= kReach; ++k) out.push_back(std::exp(-0.5 * std::pow(k * grid_step / spread, 2)));
  return out;
}

struct Drift {
  std::vector<double> radius;
  std::vector<double> outline;

  /// Weights spread to neighbouring radii (columns) and outlines (rows).
  [[nodiscard]] Eigen::MatrixXd operator()(const Eigen::MatrixXd& w) const {
    Eigen::MatrixXd half = Eigen::MatrixXd::Zero(w.rows(), w.cols());
    for (int k = -kReach; k <= kReach; ++k) {
      const int count = static_cast<int>(w.cols()) - std::abs(k);
      if (count <= 0) continue;
      half.middleCols(std::max(0, k), count) += radius[std::abs(k)] * w.middleCols(std::max(0, -k), count);
    }
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(w.rows(), w.cols());
    for (int k = -kReach; k <= kReach; ++k) {
      const int count = static_cast<int>(w.rows()) - std::abs(k);
      if (count <= 0) continue;
      out.middleRows(std::max(0, k), count) += outline[std::abs(k)] * half.middleRows(std::max(0, -k), count);
    }
    return out / out.sum();
  }
};

/// Table of one dimension cut in two: rows.
Eigen::MatrixXd refined_rows(const Eigen::MatrixXd& t) {
  const auto n = t.rows();
  Eigen::MatrixXd out(2 * n - 1, t.cols());
  for (Eigen::Index i = 0; i < n; ++i) {
    out.row(2 * i) = t.row(i);
    if (i + 1 == n) break;
    const Eigen::RowVectorXd before = i > 0 ? t.row(i - 1) : Eigen::RowVectorXd(2 * t.row(0) - t.row(1));
    const Eigen::RowVectorXd after = i + 2 < n ? t.row(i + 2) : Eigen::RowVectorXd(2 * t.row(i + 1) - t.row(i));
    out.row(2 * i + 1) = (9 * (t.row(i) + t.row(i + 1)) - before - after) / 16;
  }
  return out;
}

StripAnswer answer_of(const Eigen::MatrixXd& posterior, const StripGrid& grid) {
  StripAnswer out;
  double below = 0;
  const double ratio = grid.radii[1] / grid.radii[0];
  for (int c = 0; c < posterior.cols(); ++c) {
    const double w = posterior.col(c).sum();
    out.radius += w * grid.radii[c];
    out.u_radius += w * grid.radii[c] * grid.radii[c];
    if (below < 0.975) out.radius_limit = grid.radii[c] * std::sqrt(ratio);
    below += w;
  }
  for (int r = 0; r < posterior.rows(); ++r) {
    const double w = posterior.row(r).sum();
    out.outline += w * grid.offsets[r];
    out.u_outline += w * grid.offsets[r] * grid.offsets[r];
  }
  const double radius_step = out.radius * std::log(ratio);
  const double outline_step = grid.offsets[1] - grid.offsets[0];
  const auto spread = [](double square, double mean, double step) {
    return std::sqrt(std::max(0.0, square - mean * mean) + step * step / 12);
  };
  out.u_radius = spread(out.u_radius, out.radius, radius_step);
  out.u_outline = spread(out.u_outline, out.outline, outline_step);
  return out;
}

}  // namespace

StripGrid StripGrid::refined() const {
  StripGrid out;
  for (std::size_t k = 0; k < radii.size(); ++k) {
    out.radii.push_back(radii[k]);
    if (k + 1 < radii.size()) out.radii.push_back(std::sqrt(radii[k] * radii[k + 1]));
  }
  for (std::size_t k = 0; k < offsets.size(); ++k) {
    out.offsets.push_back(offsets[k]);
    if (k + 1 < offsets.size()) out.offsets.push_back((offsets[k] + offsets[k + 1]) / 2);
  }
  return out;
}

Eigen::MatrixXd refined(const Eigen::MatrixXd& table, const StripGrid& grid, double ridge) {
  const auto rows = table.rows();
  const double step = grid.offsets[1] - grid.offsets[0];
  std::vector<Eigen::Index> shift;
  for (const double r : grid.radii) shift.push_back(static_cast<Eigen::Index>(std::lround(ridge * r / step)));
  const Eigen::Index most = shift.back();
  // Far below the top nothing matters, but a cubic would swing back up from there.
  constexpr double kDepth = 20;
  const Eigen::MatrixXd shallow = table.array().max(table.maxCoeff() - kDepth);
  // Sheared: row o - shift + most, so that the ridge runs along a row; rows outside repeat the last.
  Eigen::MatrixXd sheared(rows + most, table.cols());
  for (Eigen::Index c = 0; c < table.cols(); ++c) {
    sheared.col(c).setConstant(shallow(rows - 1, c));
    sheared.col(c).head(most - shift[c]).setConstant(shallow(0, c));
    sheared.col(c).segment(most - shift[c], rows) = shallow.col(c);
  }
  const Eigen::MatrixXd fine = refined_rows(refined_rows(sheared).transpose()).transpose();
  Eigen::MatrixXd out(2 * rows - 1, fine.cols());
  for (Eigen::Index c = 0; c < fine.cols(); ++c) {
    const Eigen::Index twice = c % 2 == 0 ? 2 * shift[c / 2] : shift[c / 2] + shift[c / 2 + 1];
    out.col(c) = fine.col(c).segment(2 * most - twice, 2 * rows - 1);
  }
  return out;
}

std::vector<StripAnswer> joined(const std::vector<StationLikelihood>& stations, const StripGrid& grid, double steps) {
  const Drift drift{drift_kernel(kRadiusDrift * std::sqrt(steps), std::log(grid.radii[1] / grid.radii[0])),
                    drift_kernel(kOutlineDriftPx * std::sqrt(steps), grid.offsets[1] - grid.offsets[0])};
  const std::size_t n = stations.size();
  std::vector<Eigen::MatrixXd> likelihood;
  for (const StationLikelihood& s : stations) likelihood.push_back((s.log.array() - s.log.maxCoeff()).exp());
  const Eigen::MatrixXd even = Eigen::MatrixXd::Constant(
      grid.offsets.size(), grid.radii.size(), 1.0 / static_cast<double>(grid.offsets.size() * grid.radii.size()));
  std::vector<Eigen::MatrixXd> forward(n, even);
  std::vector<Eigen::MatrixXd> backward(n, even);
  for (std::size_t k = 1; k < n; ++k) {
    if (stations[k].linked) forward[k] = drift(forward[k - 1].cwiseProduct(likelihood[k - 1]));
  }
  for (std::size_t k = n - 1; k-- > 0;) {
    if (stations[k + 1].linked) backward[k] = drift(backward[k + 1].cwiseProduct(likelihood[k + 1]));
  }
  std::vector<StripAnswer> out;
  for (std::size_t k = 0; k < n; ++k) {
    Eigen::MatrixXd posterior = forward[k].cwiseProduct(backward[k]).cwiseProduct(likelihood[k]);
    const double sum = posterior.sum();
    out.push_back(answer_of(sum > 0 ? Eigen::MatrixXd(posterior / sum) : even, grid));
  }
  return out;
}

}  // namespace glintline
