#pragma once

#include <Eigen/Core>
#include <functional>
#include <vector>

#include "trace/plan_edge.h"
#include "trace/plan_strip_model.h"

namespace glintline {

/// Mean profile of a station: colours of linear light, StripWindow::kStepPx apart.
struct PlanProfile {
  std::vector<cv::Vec3f> values;
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

/// What is looked at in a colour of linear light.
using Reading = std::function<double(const cv::Vec3f& linear)>;

/// The light of grey that has a colour's luma, which JPEG stores at full resolution.
[[nodiscard]] double light_of_luma(const cv::Vec3f& linear);

/// How far a colour lies off that grey, along the direction in which the profiles' colours differ most; the ground's is
/// positive. Most cameras store colour at half of luma's resolution.
[[nodiscard]] Reading colour_reading(const std::vector<PlanProfile>& profiles);

/// A profile as a reading has it.
[[nodiscard]] Eigen::VectorXf read_profile(const PlanProfile& profile, const Reading& reading);

/// Farther from the base than this no strip can be.
struct Clear {
  double behind_px = 0;
  double beyond_px = 0;
};

/// Levels, grain and waves of the surfaces as a reading has them, learned in clear places.
/// `values`: the profiles read so.
[[nodiscard]] StripLevels learn_levels(const EdgeStrip& strip, const std::vector<PlanProfile>& profiles,
                                       const std::vector<Eigen::VectorXf>& values, const Reading& reading,
                                       const Clear& clear);

}  // namespace glintline
