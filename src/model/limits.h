#pragma once

#include <optional>
#include <string>

namespace glintline {

/// A figure that decisions hang on, and who says so. The unit is the suffix of the field that holds it.
struct Limit {
  double value = 0;
  std::string source;  ///< as a person reads it: "chain sheet NAME", a handbook's name, "common practice", "proposed"
};

/// What is cut. Nothing stated means kHardOrFrozen, the safer of the two.
enum class Wood {
  kHardOrFrozen,
  kSoftUnfrozen,  ///< permits more drop, with caution
};

/// The most drop any cutter may have, whatever a sheet says: .035 in (a US logger-training brochure).
inline constexpr double kDropCapMm = 0.89;

/// A gauge setting that grows as the cutter is filed back, linear in the cutter's length between two points, level
/// beyond them, and never over kDropCapMm. Default: a veteran's rule, .025 in new to .037 in at the rear rivet; the
/// two lengths are assumed (new top plates are 9 to 11 mm long; the shorter one is where a cutter is retired).
struct GrowingSetting {
  double new_mm = 0.635;
  double worn_mm = 0.940;
  double new_length_mm = 10;
  double worn_length_mm = 4;
};

/// All that a cutter, and a chain of cutters, is judged by.
struct Limits {
  Limit gauge_setting_mm;                         ///< the drop to set; by pitch, or by the sheet
  std::optional<GrowingSetting> growing_setting;  ///< takes the place of gauge_setting_mm.value
  Limit gauge_tolerance_mm;                       ///< so much less drop than the setting is left alone
  Limit most_drop_mm;                             ///< more is out of use; judge caps it at kDropCapMm
  std::optional<Limit> caution_drop_mm;           ///< more is used with caution only (soft, unfrozen wood)

  Limit sharp_radius_um;    ///< up to this edge radius: sharp
  Limit dull_radius_um;     ///< over this edge radius: dull; between the two: worn
  Limit chip_depth_mm;      ///< deeper chips are filed out
  Limit retired_length_mm;  ///< a cutter with less is retired, also when it would have less after filing

  Limit least_edge_angle_rad;
  Limit most_edge_angle_rad;
  std::optional<Limit> filing_angle_rad;  ///< what the edge angle is filed to
  std::optional<Limit> least_hook_rad;    ///< the hook angle is judged only where the sheet says by what
  std::optional<Limit> most_hook_rad;

  Limit length_spread_warn_mm;  ///< longest less shortest cutter of a chain
  Limit length_spread_act_mm;
  Limit left_right_warn_rad;  ///< mean edge angle of the left-hand cutters less that of the right-hand ones
  Limit left_right_act_rad;
};

}  // namespace glintline
