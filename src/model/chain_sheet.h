#pragma once

#include <optional>
#include <string>

#include "model/limits.h"
#include "model/setup.h"

namespace glintline {

/// How many drive links lie from one cutter to the next.
enum class Sequence {
  kFull,      ///< 2: a cutter on every second drive link, hands alternating
  kSemiSkip,  ///< 2 and 3 in turn: drive links / 2.5 cutters
  kFullSkip,  ///< 3
};

/// Which way the cutters' numbers grow from the mark.
enum class Counting {
  kBehind,  ///< against the running direction: the next number comes by when the chain is pulled on
  kAhead,   ///< in the running direction
};

/// The limits a sheet sets itself. What is absent comes from common practice.
struct LimitOverrides {
  std::optional<double> gauge_setting_mm;
  std::optional<GrowingSetting> growing_setting;
  std::optional<double> gauge_tolerance_mm;
  std::optional<double> most_drop_mm;
  std::optional<double> sharp_radius_um;
  std::optional<double> dull_radius_um;
  std::optional<double> chip_depth_mm;
  std::optional<double> retired_length_mm;
  std::optional<double> least_edge_angle_rad;
  std::optional<double> most_edge_angle_rad;
  std::optional<double> least_hook_rad;
  std::optional<double> most_hook_rad;
  std::optional<double> length_spread_warn_mm;
  std::optional<double> length_spread_act_mm;
  std::optional<double> left_right_warn_rad;
  std::optional<double> left_right_act_rad;
};

/// What the user knows of one chain, from its maker's papers. A default-constructed sheet says nothing and is valid.
struct ChainSheet {
  std::string name;                           ///< what the user calls the chain
  std::string source;                         ///< the sheet's file name, to stand beside its limits
  std::optional<double> drive_link_gauge_mm;  ///< thickness of the drive links
  std::optional<int> drive_links;             ///< how many: the loop's length is drive_links x 2 x pitch
  Sequence sequence = Sequence::kFull;
  std::optional<Hand> first_cutter;  ///< hand of cutter number 1
  std::optional<Counting> counting;  ///< nothing: told from the photographs
  /// The cutter behind which the next one is of the same hand, where a loop with an odd count was joined. Nothing:
  /// the last and the first one, if any.
  std::optional<int> alike_after;
  bool low_profile = false;
  std::optional<double> file_diameter_mm;
  std::optional<double> filing_angle_rad;  ///< edge angle to file to
  Wood wood = Wood::kHardOrFrozen;
  ChainGeometry geometry;  ///< pitch, corner kind, widths and thicknesses
  LimitOverrides limits;
};

}  // namespace glintline
