#include "measure/rivet_row.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "math/line_fit.h"

namespace glintline {

namespace {

/// Play of a rivet square to the row: all sizes alike probable.
constexpr std::array kPlaysMm = {0.005, 0.01, 0.02, 0.04, 0.08, 0.16};

/// The row's rivets in its own frame, mm: x along it, z square to it.
struct Row {
  Line2 line;
  Eigen::VectorXd x;
  Eigen::VectorXd z;
  Eigen::VectorXd u;

  [[nodiscard]] Point2 across() const { return turned_quarter(line.direction); }
  [[nodiscard]] double along(const Point2& p) const { return (p - line.point).dot(line.direction); }
};

Row row_of(const std::vector<RivetOutline>& rivets, const CameraView& view, double height_mm) {
  std::vector<Point2> places;
  for (const RivetOutline& r : rivets) places.push_back(view.at_height(r.centre_px, height_mm));
  Row row;
  row.line = {places.front(), (places.back() - places.front()).normalized()};
  const auto count = std::ssize(places);
  row.x.resize(count);
  row.z.resize(count);
  row.u.resize(count);
  for (std::ptrdiff_t i = 0; i < count; ++i) {
    row.x[i] = row.along(places[i]);
    row.z[i] = (places[i] - row.line.point).dot(row.across());
    row.u[i] = std::max(kHeadMm, rivets[i].u_px * view.mm_per_px(rivets[i].centre_px, height_mm));
  }
  return row;
}

/// Where the rivets lie square to the row.
struct Places {
  Eigen::VectorXd z;
  Eigen::MatrixXd covariance;
  double log_weight = 0;
};

/// The posterior of z for one play: the row's line from all rivets, each rivet between it and where its head is seen.
Places places_given(const Row& row, double play) {
  const auto count = row.x.size();
  Eigen::MatrixXd line(count, 2);
  line << Eigen::VectorXd::Ones(count), row.x;
  const Eigen::VectorXd seen = row.u.array().square() + play * play;
  const Eigen::VectorXd weights = seen.cwiseInverse();
  const Eigen::Matrix2d normal = line.transpose() * weights.asDiagonal() * line;
  const Eigen::Matrix2d of_line = normal.inverse();
  const Eigen::Vector2d fit = of_line * (line.transpose() * weights.cwiseProduct(row.z));
  const Eigen::VectorXd residual = row.z - line * fit;
  const Eigen::VectorXd kept = play * play * weights;
  Places p;
  p.z = line * fit + kept.cwiseProduct(residual);
  // What the line's own uncertainty leaves in each place, and what a head's outline leaves in its play.
  const Eigen::MatrixXd by_line = (Eigen::VectorXd::Ones(count) - kept).asDiagonal() * line;
  p.covariance = by_line * of_line * by_line.transpose();
  p.covariance.diagonal() += kept.cwiseProduct(row.u.cwiseAbs2());
  p.log_weight = -0.5 * (residual.cwiseAbs2().cwiseProduct(weights).sum() + seen.array().log().sum() +
                         std::log(normal.determinant()));
  return p;
}

/// The posterior averaged over all plays.
Places places_of(const Row& row) {
  std::vector<Places> tried;
  for (const double play : kPlaysMm) tried.push_back(places_given(row, play));
  double most = -1e300;
  for (const Places& p : tried) most = std::max(most, p.log_weight);
  const auto count = row.x.size();
  Places mean{Eigen::VectorXd::Zero(count), Eigen::MatrixXd::Zero(count, count), 0};
  double sum = 0;
  for (const Places& p : tried) {
    const double weight = std::exp(p.log_weight - most);
    sum += weight;
    mean.z += weight * p.z;
    mean.covariance += weight * (p.covariance + p.z * p.z.transpose());
  }
  mean.z /= sum;
  mean.covariance = (mean.covariance / sum - mean.z * mean.z.transpose()).eval();
  return mean;
}

/// Number of the head in the row; -1 where it is none of them.
std::ptrdiff_t number_in(const std::vector<RivetOutline>& rivets, const RivetOutline& head) {
  const auto same = [&](const RivetOutline& r) { return (r.centre_px - head.centre_px).norm() < 1e-6; };
  const auto found = std::find_if(rivets.begin(), rivets.end(), same);
  return found == rivets.end() ? -1 : found - rivets.begin();
}

}  // namespace

std::vector<CutterOutline> cutters_on_row(const ProfileOutlines& outlines, const CameraView& view, double height_mm) {
  std::vector<CutterOutline> cutters = outlines.cutters;
  for (CutterOutline& cutter : cutters) {
    for (RivetOutline* head : {&cutter.rear_rivet, &cutter.front_rivet}) {
      head->u_px = std::max(head->u_px, kHeadMm / view.mm_per_px(head->centre_px, height_mm));
    }
  }
  if (outlines.rivets.size() < 2) return cutters;
  const Row row = row_of(outlines.rivets, view, height_mm);
  const Places places = places_of(row);
  for (CutterOutline& cutter : cutters) {
    const auto rear = number_in(outlines.rivets, cutter.rear_rivet);
    const auto front = number_in(outlines.rivets, cutter.front_rivet);
    if (rear < 0 || front < 0) continue;
    const double variance = places.covariance(rear, rear) + places.covariance(front, front) -
                            2 * places.covariance(rear, front);
    const double u_mm = std::sqrt(std::max(0.0, variance) / 2);
    const auto put = [&](RivetOutline& head, std::ptrdiff_t i) {
      const Point2 at = row.line.point + row.x[i] * row.line.direction + places.z[i] * row.across();
      head.u_px = u_mm / view.mm_per_px(head.centre_px, height_mm);
      head.centre_px = view.pixel({at.x(), at.y(), -height_mm});
    };
    put(cutter.rear_rivet, rear);
    put(cutter.front_rivet, front);
  }
  return cutters;
}

}  // namespace glintline
