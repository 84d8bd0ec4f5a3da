#include "measure/row_agreement.h"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>

#include "math/statistics.h"

namespace glintline {

namespace {

/// Stampings of one tool repeat to a few hundredths of a millimetre (from memory).
constexpr double kStampedMm = 0.04;

/// Unknowns: the influences, the common place, every cutter's own.
struct Adjusted {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  double chi2 = 0;  ///< of all residuals
};

/// Takes no notice of what is seen of place number `unseen`; `noise` multiplies the places' own variances.
Adjusted adjusted(std::span<const RearPlace> places, Eigen::Index influences, std::size_t unseen, double noise = 1) {
  const Eigen::Index common = influences;
  const Eigen::Index unknowns = influences + 1 + static_cast<Eigen::Index>(places.size());
  Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(unknowns, unknowns);
  normal.topLeftCorner(influences, influences).setIdentity();
  Eigen::VectorXd right = Eigen::VectorXd::Zero(unknowns);
  Adjusted out;
  const auto observe = [&](const Eigen::VectorXd& row, double value, double variance) {
    normal += row * row.transpose() / variance;
    right += row * value / variance;
    out.chi2 += value * value / variance;
  };
  for (std::size_t i = 0; i < places.size(); ++i) {
    const RearPlace& p = places[i];
    const Eigen::Index own = common + 1 + static_cast<Eigen::Index>(i);
    Eigen::VectorXd row = Eigen::VectorXd::Zero(unknowns);
    row[own] = 1;
    if (p.x && i != unseen) {
      row.head(influences) = -Eigen::VectorXd::Map(p.by_influence.data(), influences);
      observe(row, *p.x, noise * p.u * p.u);
      row.head(influences).setZero();
    }
    row[common] = -1;
    observe(row, 0, noise * (p.u_rivet * p.u_rivet + kStampedMm * kStampedMm));
  }
  out.covariance = normal.inverse();
  out.mean = out.covariance * right;
  out.chi2 -= right.dot(out.mean);
  return out;
}

}  // namespace

std::vector<RowAgreement> agreed_rear_ends(std::span<const RearPlace> places) {
  constexpr double kAgreeing = 0.99;  // places that agree pass for contradicting once in a hundred pictures
  const auto is_seen = [](const RearPlace& p) { return p.x.has_value(); };
  const auto seen = std::ranges::count_if(places, is_seen);
  if (places.size() < 2 || seen == 0) return {};
  const auto influences = static_cast<Eigen::Index>(std::ranges::find_if(places, is_seen)->by_influence.size());
  const auto agree = [](const Adjusted& a, std::ptrdiff_t count) {
    return count < 2 || a.chi2 < chi2_quantile(kAgreeing, static_cast<double>(count - 1));
  };
  std::ptrdiff_t taken = seen;
  std::size_t unseen = places.size();
  Adjusted best = adjusted(places, influences, unseen);
  if (!agree(best, taken)) {
    if (seen < 3) return {};
    best.chi2 = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < places.size(); ++i) {
      Adjusted a = adjusted(places, influences, i);
      if (a.chi2 >= best.chi2) continue;
      best = std::move(a);
      unseen = i;
    }
    taken = seen - 1;
    if (!agree(best, taken)) return {};
  }
  // What agrees less than its uncertainties allow is known less well.
  const double birge = taken > 1 ? best.chi2 / static_cast<double>(taken - 1) : 0;
  if (birge > 1) best = adjusted(places, influences, unseen, birge);
  std::vector<RowAgreement> agreements;
  for (std::size_t i = 0; i < places.size(); ++i) {
    std::vector<Eigen::Index> which(static_cast<std::size_t>(influences) + 1);
    for (Eigen::Index k = 0; k < influences; ++k) which[static_cast<std::size_t>(k)] = k;
    which.back() = influences + 1 + static_cast<Eigen::Index>(i);
    agreements.push_back({best.mean(which), best.covariance(which, which)});
  }
  return agreements;
}

}  // namespace glintline
