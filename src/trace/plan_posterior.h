#pragma once

#include <Eigen/Core>
#include <vector>

namespace glintline {

/// Radii (px, geometric) and outlines (px against the base, even) at which the strip is tried.
struct StripGrid {
  std::vector<double> radii;
  std::vector<double> offsets;

  /// The same range with every interval cut in two.
  [[nodiscard]] StripGrid refined() const;
};

/// Log likelihoods of one station: rows are offsets, columns radii. `linked`: follows from the station before it, so
/// that radius and outline change little.
struct StationLikelihood {
  Eigen::MatrixXd log;
  bool linked = true;
};

/// Cubic interpolation (Catmull & Rom 1974) of a station's table to StripGrid::refined(), along the ridge on which a
/// wider strip and an outline further out leave the strip's middle in place: `ridge` px of outline a px of radius.
[[nodiscard]] Eigen::MatrixXd refined(const Eigen::MatrixXd& table, const StripGrid& grid, double ridge);

/// Mean, spread and upper bound of what a station knows.
struct StripAnswer {
  double radius = 0;
  double u_radius = 0;
  double radius_limit = 0;  ///< 97.5 % of the posterior lies below
  double outline = 0;       ///< against the base
  double u_outline = 0;
};

/// Joins the stations: ln r and outline walk randomly from one to the next, by kRadiusDrift and kOutlineDrift in 0.05
/// mm; forward-backward pass (Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77, 1989, eq. 19-27).
/// `steps` is the stations' spacing in units of 0.05 mm. Prior uniform in ln r.
[[nodiscard]] std::vector<StripAnswer> joined(const std::vector<StationLikelihood>& stations, const StripGrid& grid,
                                              double steps);

}  // namespace glintline
