#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "model/chain_sheet.h"
#include "model/inspection.h"

namespace glintline {

/// A cutter's place in one photograph.
struct PlacedCutter {
  std::size_t cutter = 0;    ///< index into Inspection::cutters
  double along_mm = 0;       ///< of its working corner, in the running direction, from some place of the picture
  double off_middle_mm = 0;  ///< from the middle of the card's field, along the chain
};

/// The cutters over the field in running order, rear to front. The direction is that from rear ends to working corners
/// (kLength marks), else the order in which the measuring named them.
[[nodiscard]] std::vector<PlacedCutter> running_order(const Inspection& photo);

/// How far apart cutters stand.
struct CutterSpacing {
  std::optional<double> pitch_mm;
  Sequence sequence = Sequence::kFull;

  /// How many cutters on a place `gap_mm` along the chain lies (negative: back), or nothing where no cutter can stand
  /// there. in: in_order, how many on it is by the order in the picture, which decides where the pitch is not known or
  /// the spacing changes (semi-skip).
  [[nodiscard]] std::optional<int> steps(double gap_mm, int in_order) const;
};

/// From the sheet's pitch, else the median of what the photographs measured.
[[nodiscard]] CutterSpacing cutter_spacing(const std::vector<Inspection>& photos, const ChainSheet& sheet);

}  // namespace glintline
