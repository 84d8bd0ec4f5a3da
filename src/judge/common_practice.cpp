#include "judge/common_practice.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/text.h"

namespace glintline {

namespace {

constexpr double kDeg = std::numbers::pi / 180;

constexpr const char* kProposed = "proposed, no source";
constexpr const char* kManuals = "makers' manuals";
constexpr const char* kSettingTable = "Bayerische Waldbauernschule, makers' manuals";
constexpr const char* kHandbook = "South African Chainsaw Safety and Operating Handbook (ICFR), MSA";
constexpr const char* kCapSource = "US logger-training brochure, .035 in";

// Half way between the nominal pitches 1/4, .325, 3/8 and .404 in (6.35, 8.255, 9.525, 10.26 mm); many 3/8 chains
// have a real pitch of 9.32 mm.
constexpr double kOverQuarterMm = 7.3;
constexpr double kOverThreeEighthsMm = 9.89;

constexpr double kSoftWoodDropMm = 0.80;
constexpr double kToleranceMm = 0.10;
/// How far an edge angle may lie from the sheet's filing angle: as far as 25 and 35 degrees lie from 30.
constexpr double kAngleMarginRad = 5 * kDeg;

/// Gauge drop to set, by pitch; 0.65 mm where the pitch is unknown, as for three of the table's four rows.
double common_setting_mm(std::optional<double> pitch_mm, bool low_profile) {
  if (!pitch_mm) return 0.65;
  if (*pitch_mm < kOverQuarterMm && low_profile) return 0.45;
  return *pitch_mm > kOverThreeEighthsMm ? 0.80 : 0.65;
}

Limit capped(Limit drop) {
  if (drop.value <= kDropCapMm) return drop;
  return {kDropCapMm, drop.source + ", capped: " + kCapSource};
}

template <typename T>
struct Pair {
  T lower;
  T upper;
};

/// The sheet's own values before the common ones.
class OwnLimits {
 public:
  explicit OwnLimits(const ChainSheet& sheet) : sheet_("chain sheet " + sheet.source) {}

  [[nodiscard]] Limit pick(std::optional<double> own, double common, const std::string& source) const {
    return own ? Limit{*own, sheet_} : Limit{common, source};
  }
  /// Two limits of which the first may not exceed the second: a common one gives way to one of the sheet's own.
  void pick_in_order(const Pair<std::optional<double>>& own, const Pair<double>& common, const std::string& source,
                     const Pair<Limit&>& limits) const {
    limits.lower = pick(own.lower, common.lower, source);
    limits.upper = pick(own.upper, common.upper, source);
    if (limits.lower.value <= limits.upper.value) return;
    if (own.lower) {
      limits.upper = limits.lower;
    } else {
      limits.lower = limits.upper;
    }
  }
  [[nodiscard]] std::optional<Limit> only(std::optional<double> own) const {
    return own ? std::optional<Limit>({*own, sheet_}) : std::nullopt;
  }
  [[nodiscard]] const std::string& sheet() const { return sheet_; }

 private:
  std::string sheet_;
};

void set_drop_limits(Limits& limits, const ChainSheet& sheet, const OwnLimits& own_limits) {
  const LimitOverrides& own = sheet.limits;
  limits.growing_setting = own.growing_setting;
  limits.gauge_tolerance_mm = own_limits.pick(own.gauge_tolerance_mm, kToleranceMm, kProposed);
  limits.gauge_setting_mm = capped(own_limits.pick(
      own.gauge_setting_mm, common_setting_mm(sheet.geometry.pitch_mm, sheet.low_profile), kSettingTable));
  if (own.growing_setting) {
    limits.gauge_setting_mm =
        capped({own.growing_setting->new_mm, own_limits.sheet() + ", growing as the cutter shortens"});
  }
  if (!own.gauge_setting_mm && own.most_drop_mm && *own.most_drop_mm < limits.gauge_setting_mm.value) {
    limits.gauge_setting_mm = {*own.most_drop_mm, own_limits.sheet()};
  }
  const double over_setting = limits.gauge_setting_mm.value + limits.gauge_tolerance_mm.value;
  const bool soft = sheet.wood == Wood::kSoftUnfrozen;
  if (own.most_drop_mm) {
    limits.most_drop_mm = capped({*own.most_drop_mm, own_limits.sheet()});
  } else if (soft || own.growing_setting) {
    limits.most_drop_mm = {kDropCapMm, kCapSource};
  } else {
    limits.most_drop_mm = capped({over_setting, "setting + " + fixed(limits.gauge_tolerance_mm.value, 2) +
                                                    " in hard or frozen wood, " + kProposed});
  }
  const double caution = std::max(kSoftWoodDropMm, over_setting);
  if (soft && caution < limits.most_drop_mm.value) limits.caution_drop_mm = {caution, kSettingTable};
}

void set_angle_limits(Limits& limits, const ChainSheet& sheet, const OwnLimits& own_limits) {
  const LimitOverrides& own = sheet.limits;
  limits.filing_angle_rad = own_limits.pick(sheet.filing_angle_rad, 30 * kDeg, kHandbook);
  Pair<double> edge{25 * kDeg, 35 * kDeg};
  std::string edge_source = kHandbook;
  if (sheet.filing_angle_rad) {
    edge = {*sheet.filing_angle_rad - kAngleMarginRad, *sheet.filing_angle_rad + kAngleMarginRad};
    edge_source = own_limits.sheet() + ", +-5 proposed";
  }
  own_limits.pick_in_order({own.least_edge_angle_rad, own.most_edge_angle_rad}, edge, edge_source,
                           {limits.least_edge_angle_rad, limits.most_edge_angle_rad});
  limits.least_hook_rad = own_limits.only(own.least_hook_rad);
  limits.most_hook_rad = own_limits.only(own.most_hook_rad);
  own_limits.pick_in_order({own.left_right_warn_rad, own.left_right_act_rad}, {3 * kDeg, 5 * kDeg}, kProposed,
                           {limits.left_right_warn_rad, limits.left_right_act_rad});
}

}  // namespace

Limits limits_of(const ChainSheet& sheet) {
  const OwnLimits own_limits(sheet);
  const LimitOverrides& own = sheet.limits;
  Limits limits;
  set_drop_limits(limits, sheet, own_limits);
  set_angle_limits(limits, sheet, own_limits);
  own_limits.pick_in_order({own.sharp_radius_um, own.dull_radius_um}, {25, 40}, kProposed,
                           {limits.sharp_radius_um, limits.dull_radius_um});
  limits.chip_depth_mm = own_limits.pick(own.chip_depth_mm, 0.10, kProposed);
  limits.retired_length_mm = own_limits.pick(own.retired_length_mm, 4.0, kManuals);
  own_limits.pick_in_order({own.length_spread_warn_mm, own.length_spread_act_mm}, {0.2, 0.5}, kProposed,
                           {limits.length_spread_warn_mm, limits.length_spread_act_mm});
  return limits;
}

Limits limits_of(const ChainSheet& sheet, const std::optional<Quantity>& measured_pitch_mm) {
  if (!measured_pitch_mm || sheet.geometry.pitch_mm) return limits_of(sheet);
  const double u95 = kCoverage * measured_pitch_mm->u();
  for (const double border : {kOverQuarterMm, kOverThreeEighthsMm}) {
    if (!(std::abs(measured_pitch_mm->value - border) > u95)) return limits_of(sheet);
  }
  ChainSheet measured = sheet;
  measured.geometry.pitch_mm = measured_pitch_mm->value;
  return limits_of(measured);
}

}  // namespace glintline
