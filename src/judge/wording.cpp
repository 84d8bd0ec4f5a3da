#include "judge/wording.h"

#include <cmath>
#include <numbers>

#include "base/text.h"

namespace glintline {

namespace {

constexpr double kPerRadian = 180 / std::numbers::pi;

std::string with_u95(double value, double u, int decimals) {
  return fixed(value, decimals) + " +- " + rounded_up(kCoverage * u, decimals);
}

}  // namespace

std::string mm_text(double value_mm) { return fixed(value_mm, 2) + " mm"; }

std::string mm_text(const Quantity& value_mm) { return with_u95(value_mm.value, value_mm.u(), 2) + " mm"; }

std::string um_text(double value_um) { return fixed(value_um, 0) + " um"; }

std::string um_text(const Quantity& value_um) { return with_u95(value_um.value, value_um.u(), 0) + " um"; }

std::string degrees_text(double angle_rad) { return fixed(angle_rad * kPerRadian, 0) + " degrees"; }

std::string degrees_text(const Quantity& angle_rad) {
  return with_u95(angle_rad.value * kPerRadian, angle_rad.u() * kPerRadian, 1) + " degrees";
}

std::string place_text(const Chip& chip) {
  return chip.at_corner ? std::string("broken corner") : "chip at " + mm_text(chip.at_mm) + " from the corner";
}

std::string source_text(const Limit& limit) { return "(" + limit.source + ")"; }

}  // namespace glintline
