#include "judge/gauge_setting.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "judge/wording.h"

namespace glintline {

namespace {

constexpr double kDeg = std::numbers::pi / 180;
constexpr double kUsualSlopeRad = 5 * kDeg;
constexpr double kUUsualSlopeRad = 1.5 * kDeg;

/// The smaller of the two; `cap` where `value` is no number.
double capped_at(double value, double cap) { return value <= cap ? value : cap; }

}  // namespace

GaugeSetting gauge_setting(const std::optional<Quantity>& length_mm, const Limits& limits) {
  GaugeSetting s;
  s.most_mm = capped_at(limits.most_drop_mm.value, kDropCapMm);
  s.most_source = source_text(limits.most_drop_mm);
  s.value_mm = limits.gauge_setting_mm.value;
  if (limits.growing_setting) {
    const GrowingSetting& g = *limits.growing_setting;
    const double per_mm = (g.worn_mm - g.new_mm) / (g.worn_length_mm - g.new_length_mm);
    const bool known = length_mm && std::isfinite(length_mm->value);
    const double length = known ? length_mm->value : g.new_length_mm;
    s.value_mm = g.new_mm + per_mm * (std::clamp(length, g.worn_length_mm, g.new_length_mm) - g.new_length_mm);
    if (known) s.u_mm = std::abs(per_mm) * length_mm->u();
    const double over_setting = s.value_mm + limits.gauge_tolerance_mm.value;
    if (!limits.caution_drop_mm && over_setting < s.most_mm) {
      s.most_mm = over_setting;
      s.most_source = "(setting of a cutter so long + " + mm_text(limits.gauge_tolerance_mm.value) + ")";
    }
  }
  s.value_mm = capped_at(s.value_mm, s.most_mm);
  return s;
}

Quantity top_slope(const CutterMeasurement& cutter) {
  if (cutter.top_slope_rad && std::isfinite(cutter.top_slope_rad->value)) return *cutter.top_slope_rad;
  return {kUsualSlopeRad, {{Source::kDefinition, kUUsualSlopeRad}}};
}

}  // namespace glintline
