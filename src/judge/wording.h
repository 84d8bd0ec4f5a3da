#pragma once

#include <string>

#include "model/limits.h"
#include "model/measurement.h"
#include "model/quantity.h"

namespace glintline {

/// "0.65 mm", and "0.50 +- 0.03 mm" with the u95, rounded up.
[[nodiscard]] std::string mm_text(double value_mm);
[[nodiscard]] std::string mm_text(const Quantity& value_mm);

/// "40 um", "46 +- 8 um"
[[nodiscard]] std::string um_text(double value_um);
[[nodiscard]] std::string um_text(const Quantity& value_um);

/// "30 degrees", "31.2 +- 0.5 degrees", from radians.
[[nodiscard]] std::string degrees_text(double angle_rad);
[[nodiscard]] std::string degrees_text(const Quantity& angle_rad);

/// "chip at 2.10 mm from the corner", "broken corner"
[[nodiscard]] std::string place_text(const Chip& chip);

/// "(common practice)": who says so.
[[nodiscard]] std::string source_text(const Limit& limit);

}  // namespace glintline
