#pragma once

#include <optional>
#include <string>
#include <vector>

#include "math/geometry.h"
#include "model/edge_chart.h"
#include "model/quantity.h"

namespace glintline {

/// How the photograph looks at the chain.
enum class ViewKind { kProfile, kPlan };

/// On which side of the chain, looking in its running direction, the cutter's side plate stands.
enum class Hand { kLeft, kRight };

/// A stretch of the edge set back behind the neighbouring undamaged outline.
struct Chip {
  double at_mm = 0;    ///< deepest place, along the edge from the working corner
  Quantity depth_mm;   ///< perpendicular to the edge, in plan
  Quantity width_mm;   ///< along the edge
  Quantity area_mm2;
  bool at_corner = false;  ///< the working corner itself is broken off; then `at_mm` is 0
};

/// What a drawn mark stands for; the report chooses how it looks.
enum class MarkRole {
  kRivetLine,   ///< through the two rivets the drop is taken from
  kRivet,       ///< outline of a rivet head (closed)
  kTopPlate,    ///< traced top of the top plate
  kGauge,       ///< traced top of the depth gauge
  kDrop,        ///< the measured drop: two points, top plate level and gauge level
  kLength,      ///< from the rear end to the working corner
  kCorner,      ///< working corner (a single point)
  kHook,        ///< chord of the side plate's front
  kEdge,        ///< traced cutting edge (plan)
  kEdgeLine,    ///< fitted line of the undamaged edge (plan)
  kChip,        ///< outline of a chip (plan)
};

/// What was measured where, in upright pixels, for the annotated picture.
struct Mark {
  MarkRole role;
  std::vector<Point2> points_px;
  std::string label;  ///< may be empty
  /// kEdge only: edge radius r(s), µm, at each point, NaN where it is not known. Otherwise empty.
  std::vector<double> values = {};
};

/// One cutter as measured in one photograph. A quantity is absent where the view or the picture cannot give it; then
/// `missing` says which and why.
struct CutterMeasurement {
  std::optional<int> number;
  std::optional<Hand> hand;
  Point2 corner_px = Point2::Zero();
  bool over_field = true;  ///< false: only named, because it lies over the card's squares or leaves the picture

  std::optional<Quantity> length_mm;
  std::optional<Quantity> whole_length_mm;  ///< plan: to where outer side and edge line would meet, had nothing worn
  std::optional<Quantity> corner_loss_mm;   ///< plan: whole length less length, where the corner is seen
  std::optional<Quantity> gauge_drop_mm;
  std::optional<Quantity> edge_angle_rad;
  std::optional<Quantity> top_slope_rad;
  std::optional<Quantity> hook_angle_rad;
  std::optional<Quantity> corner_rounding_um;  ///< profile cross-check, never r(s)
  std::optional<Quantity> edge_radius_um;      ///< median over the undamaged edge
  std::optional<Quantity> edge_radius_p90_um;
  std::optional<double> edge_radius_limit_um;  ///< no rounding above this would have gone unseen
  std::vector<Chip> chips;
  bool chips_searched = false;                 ///< an empty list means "none" only where this holds
  EdgeChart edge_chart;                        ///< plan only

  std::vector<std::string> missing;  ///< "edge radius: not lit; put the lamp ahead of the cutter"
  std::vector<Mark> marks;

  /// True where the picture gave more of the cutter than its place.
  [[nodiscard]] bool measured() const {
    return gauge_drop_mm || length_mm || top_slope_rad || hook_angle_rad || edge_angle_rad;
  }
};

/// All that one photograph gave.
struct Measurements {
  ViewKind view = ViewKind::kProfile;
  double mm_per_px = 0;               ///< at the first cutter's working corner, in its own plane
  std::optional<Quantity> pitch_mm;
  std::vector<CutterMeasurement> cutters;
  std::vector<std::string> notes;     ///< what concerns the whole picture: print, scale, sheet, what to take again
  int rivet_heads = 0;  ///< in the row that the profile view was told by; 0 from above
};

}  // namespace glintline
