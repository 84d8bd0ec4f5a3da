#pragma once

#include <Eigen/Dense>
#include <optional>
#include <span>
#include <vector>

namespace glintline {

/// A top plate's rear end as one cutter shows it, in the cutter's own frame: mm ahead of its rear rivet.
struct RearPlace {
  std::optional<double> x;  ///< nothing where it is not seen
  double u = 0;             ///< standard uncertainty of the outline's place, of what no other cutter shares
  double u_rivet = 0;       ///< standard uncertainty of the rivet's place
  /// Change of `x` with each influence that the cutters of a picture share, moved by its standard uncertainty.
  std::vector<double> by_influence;
};

/// What the cutters of one chain tell together: of the influences they share, each in units of its own standard
/// uncertainty (0 ± 1 before), and of where one cutter's top plate ends in its frame, mm.
struct RowAgreement {
  Eigen::VectorXd mean;  ///< of the influences, then of the rear end
  Eigen::MatrixXd covariance;

  [[nodiscard]] double rear_x() const { return mean[mean.size() - 1]; }
};

/// Cutters of one chain are stamped alike and filed in front only: their top plates end at one distance from their
/// rivets. Where they seem not to, the influences they share are off, and by how much is learned: a least-squares
/// adjustment with prior knowledge,
///   x_i + sum_k c_ik s_k + e_i = r_i,  s_k ~ N(0, 1),  e_i ~ N(0, u_i²),
///   r_i = r + d_i,                     d_i ~ N(0, u_rivet_i² + u_stamped²),
/// with r the common place and r_i, which each cutter's corner is measured from, that in its own frame. Where chi
/// squared is over its degrees of freedom, the u_i and u_rivet_i are taken for too small by its root (R. T. Birge,
/// Phys. Rev. 40 (1932) 207; from memory). in: those that are seen, all of as many influences. out: one for each place.
/// fails (nothing): fewer than two cutters, none seen, or they contradict each other though the worst of three or more
/// be left out.
[[nodiscard]] std::vector<RowAgreement> agreed_rear_ends(std::span<const RearPlace> places);

}  // namespace glintline
