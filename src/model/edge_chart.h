#pragma once

#include <limits>
#include <vector>

namespace glintline {

/// How much of the rounding's strip could be told from what surrounds it.
enum class StripState {
  kLit,    ///< both its ends stand out
  kPart,   ///< it stands out weakly
  kUnlit,  ///< it looks like the flat top or like the ground, or lies in a chip
};

/// The edge at one place.
struct EdgeChartPoint {
  double s_mm = 0;  ///< along the edge from the working corner
  double radius_um = std::numeric_limits<double>::quiet_NaN();    ///< NaN where it is not known
  double u_radius_um = std::numeric_limits<double>::quiet_NaN();  ///< standard uncertainty, shared influences included
  double recession_mm = std::numeric_limits<double>::quiet_NaN();  ///< of the outline behind the edge's line, in plan
  StripState state = StripState::kUnlit;
};

/// r(s) and recession along a cutting edge, from the working corner inwards.
using EdgeChart = std::vector<EdgeChartPoint>;

}  // namespace glintline
