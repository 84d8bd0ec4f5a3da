#pragma once

#include <optional>
#include <string>

#include "model/limits.h"
#include "model/measurement.h"

namespace glintline {

/// The drop to set a cutter to, and the most it may have.
struct GaugeSetting {
  double value_mm = 0;
  double u_mm = 0;  ///< from the length that a growing setting hangs on
  double most_mm = 0;
  std::string most_source;
};

/// For a cutter of this length; a growing setting takes a new one's where the length is not known. Never over
/// kDropCapMm, whatever the limits say.
[[nodiscard]] GaugeSetting gauge_setting(const std::optional<Quantity>& length_mm, const Limits& limits);

/// Fall of the top plate to its rear, rad: as measured, else 5 degrees +- 3 (k = 2; 6 by one veteran's rule, a trade
/// page; makers differ).
[[nodiscard]] Quantity top_slope(const CutterMeasurement& cutter);

}  // namespace glintline
