#pragma once

#include <Eigen/Core>
#include <vector>

#include "trace/plan_edge.h"
#include "trace/plan_strip_model.h"

namespace glintline {

/// Mean profile of a station: rows are samples StripWindow::kStepPx apart, columns colours.
struct PlanProfile {
  Eigen::MatrixXf values;
  double first_n = 0;         ///< n of the first sample
  double base_n = 0;          ///< n of the outline as the path has it, smoothed
  double beyond_line_px = 0;  ///< base_n over the straight line's n
  int row = 0;                ///< middle row of the strip
  bool intact = false;        ///< neither inside a chip nor on a chip's wall
  bool contrast = false;      ///< flat and ground look different
};

/// How profiles are cut from the strip.
struct ProfileCut {
  double px_per_mm = 0;
  double spacing_px = 2;
  double behind_px = 0;  ///< of the base
  double beyond_px = 0;
};

/// Profiles all along the edge; each averages the rows up to its neighbours'.
[[nodiscard]] std::vector<PlanProfile> cut_profiles(const EdgeStrip& strip, const EdgePath& path,
                                                    const ProfileCut& cut);

/// Light, grain and waves of the surfaces, learned in places where no strip can be: `clear_px` and more behind the
/// base, or beyond it.
[[nodiscard]] StripLevels learn_levels(const EdgeStrip& strip, const std::vector<PlanProfile>& profiles,
                                       double clear_behind_px, double clear_beyond_px);

}  // namespace glintline
