#pragma once

#include <vector>

#include "trace/cutter_scene.h"

namespace glintline {

/// Columns of a skyline on which something small lies: it stands out with a steep side either way, is at most
/// 1.4 mm long, and beside it, one way at least, the part that it lies on goes on level. Sawdust mostly; a gauge's own
/// flanks fall away on both sides.
/// in: `top`, topmost body pixel (y down) of every column; only columns in [from, to) are looked at.
/// out: as many flags as columns.
[[nodiscard]] std::vector<bool> lumps_on(const std::vector<int>& top, int from, int to, double mm_per_px);

/// Those lumps of a cutter's skyline that are of wood, by their colour.
[[nodiscard]] std::vector<bool> sawdust_on(const CutterScene& s, const std::vector<int>& top, int from, int to);

/// Places of a plate's front from which a crumb of wood stands ahead. in: `front`, foremost body pixel (x ahead) of
/// every row from `first_row` down. out: as many flags.
[[nodiscard]] std::vector<bool> crumbs_before(const CutterScene& s, const std::vector<int>& front, int first_row);

}  // namespace glintline
