#include <algorithm>
#include <cmath>
#include <numbers>

#include "judge/gauge_setting.h"
#include "judge/remedy.h"
#include "judge/ruling.h"
#include "judge/standing.h"
#include "judge/wording.h"

namespace glintline {

namespace {

constexpr double kDeg = std::numbers::pi / 180;
/// Below this the top hardly falls, and filing back no longer brings it down.
constexpr double kLeastSlopeRad = 1 * kDeg;

constexpr const char* kByHand = "check the gauge with a depth gauge tool, or a straightedge and feeler gauges";

/// What filing back until the top has come down would cost, and what that makes of the cutter.
void add_cure(Ruling& ruling, const CutterMeasurement& cutter, const GaugeSetting& setting, const Limits& limits) {
  const double slope = top_slope(cutter).value;
  if (slope < kLeastSlopeRad) {
    ruling.notes.emplace_back("a gauge cannot grow, and this top hardly falls to the rear: usually retire the cutter");
    return;
  }
  const double back = (cutter.gauge_drop_mm->value - setting.value_mm) / std::tan(slope);
  const std::string cost = "a gauge cannot grow: filing back until the drop is " + mm_text(setting.value_mm) +
                           " would take " + mm_text(back);
  if (!cutter.length_mm) {
    ruling.notes.push_back(cost + " of the cutter: usually retire it");
    return;
  }
  const double left = cutter.length_mm->value - back;
  if (left >= limits.retired_length_mm.value) {
    ruling.also.push_back(Action::kFile);
    ruling.notes.push_back(cost + " and leave " + mm_text(left) + " of the cutter");
    return;
  }
  ruling.also.push_back(Action::kRetire);
  ruling.notes.push_back(cost + " and leave " + mm_text(std::max(0.0, left)) + ", under " +
                         mm_text(limits.retired_length_mm.value) + ": retire");
}

void rule_too_low(Ruling& ruling, const CutterMeasurement& cutter, const GaugeSetting& setting, const Limits& limits) {
  ruling.calls_for = Action::kGaugeTooLow;
  const bool at_cap = setting.most_mm >= kDropCapMm;
  ruling.finding.text += ": " + mm_text(cutter.gauge_drop_mm->value - setting.most_mm) + " over the most allowed, " +
                         mm_text(setting.most_mm) + " " + setting.most_source;
  ruling.notes.emplace_back("too much drop invites kickback: out of use until the chain maker's limits are met again");
  if (!at_cap && against_most(*cutter.gauge_drop_mm, kDropCapMm) == Standing::kBeyond) {
    ruling.notes.push_back("also over " + mm_text(kDropCapMm) + ", the most for any wood and pitch");
  }
  add_cure(ruling, cutter, setting, limits);
}

void rule_lowering(Ruling& ruling, const CutterMeasurement& cutter, const GaugeSetting& setting, const Limits& limits,
                   const std::optional<Stock>& stock) {
  const double drop = cutter.gauge_drop_mm->value;
  ruling.calls_for = Action::kLowerGauge;
  ruling.finding.text += ": " + mm_text(setting.value_mm - drop) + " under the setting " + mm_text(setting.value_mm) +
                         " " + source_text(limits.gauge_setting_mm) + ": lower the gauge by " +
                         mm_text(setting.value_mm - drop);
  if (stock) {
    const double fall = stock->back_mm.value * std::tan(top_slope(cutter).value);
    ruling.notes.push_back("file the cutter first: the top comes down with it, then lower the gauge by about " +
                           mm_text(setting.value_mm - drop + fall));
  }
  ruling.notes.emplace_back("lower in small steps, check with the gauge tool, and round the gauge's front again");
}

Ruling not_measured(ViewKind view) {
  Ruling ruling;
  ruling.finding = {"gauge drop", Standing::kUnknown, "gauge drop not measured"};
  if (view == ViewKind::kPlan) {
    ruling.finding.text = "gauge drop not judged from this view: photograph in profile";
    return ruling;
  }
  ruling.needed = true;
  ruling.would_decide = {"a profile picture with the top plate, the gauge and both rivets of this cutter free",
                         kByHand};
  return ruling;
}

}  // namespace

Ruling rule_gauge(const CutterMeasurement& cutter, const std::optional<Stock>& stock, const Limits& limits,
                  ViewKind view) {
  if (!cutter.gauge_drop_mm) return not_measured(view);
  const GaugeSetting setting = gauge_setting(cutter.length_mm, limits);
  Quantity drop = *cutter.gauge_drop_mm;
  if (setting.u_mm > 0) drop.budget.push_back({Source::kDefinition, setting.u_mm});
  const Standing upper = against_most(drop, setting.most_mm);
  const Standing lower = against_least(drop, setting.value_mm - limits.gauge_tolerance_mm.value);

  Ruling ruling;
  ruling.finding = {"gauge drop", upper == Standing::kWithin ? lower : upper,
                    "gauge drop " + mm_text(*cutter.gauge_drop_mm)};
  std::string& text = ruling.finding.text;
  if (upper == Standing::kBeyond) {
    rule_too_low(ruling, cutter, setting, limits);
  } else if (upper == Standing::kUndecided) {
    ruling.safety = true;
    text += ": too close to the most allowed, " + mm_text(setting.most_mm) + " " + setting.most_source + ", to call";
    ruling.notes.emplace_back("until that is decided treat it as too low: do not lower it, do not cut with it");
  } else if (lower == Standing::kBeyond) {
    rule_lowering(ruling, cutter, setting, limits, stock);
  } else if (lower == Standing::kUndecided) {
    text += ": right or a little high, too close to " + mm_text(setting.value_mm - limits.gauge_tolerance_mm.value) +
            " to call; setting " + mm_text(setting.value_mm) + " " + source_text(limits.gauge_setting_mm);
  } else {
    text += ": right; setting " + mm_text(setting.value_mm) + " " + source_text(limits.gauge_setting_mm);
  }
  if (ruling.finding.standing == Standing::kUndecided) ruling.would_decide = remedies(drop, kByHand, view);
  if (upper == Standing::kWithin && limits.caution_drop_mm &&
      against_most(drop, limits.caution_drop_mm->value) != Standing::kWithin) {
    ruling.notes.push_back("caution: so much drop, over or near " + mm_text(limits.caution_drop_mm->value) + " " +
                           source_text(*limits.caution_drop_mm) +
                           ", only in soft, unfrozen wood: more kickback, never lower");
  }
  if (limits.growing_setting && !cutter.length_mm) {
    ruling.notes.emplace_back(
        "the setting grows as the cutter shortens; its length is not known here, so a new one's is used");
  }
  return ruling;
}

}  // namespace glintline
