#pragma once

#include <optional>
#include <string>
#include <vector>

#include "math/geometry.h"
#include "model/edge_chart.h"

namespace glintline {

/// The edge of a top plate at one station. Positions in upright pixels.
struct EdgeStation {
  Point2 line_px = Point2::Zero();     ///< the station's place on the straight coarse line of the edge
  Point2 outline_px = Point2::Zero();  ///< where the metal ends, as the camera sees it
  double u_outline_px = 0;             ///< standard uncertainty of the outline, square to the edge
  bool outline_seen = false;           ///< false: filled in from the neighbours (dirt, no contrast)
  StripState strip = StripState::kUnlit;
  double strip_px = 0;        ///< full width of the rounding, flat end to outline, square to the edge, from the fit
  double u_strip_px = 0;      ///< its standard uncertainty from the fit alone
  double strip_limit_px = 0;  ///< no strip wider than this would have gone unseen; infinite where none can be seen
};

/// A place of an outline.
struct ContourPoint {
  Point2 px = Point2::Zero();
  bool seen = false;                ///< false: interpolated where plate and ground look alike
  Point2 flat_px = Point2::Zero();  ///< where the flat ends: behind px in a gap through which a lower wall shows
  /// Near the corner, where the light stops being that of the plate straight behind: at px or behind it.
  Point2 alike_px = Point2::Zero();
  bool open = false;  ///< between px and the edge's line, behind it, shows what lies ahead of the line: a gap, no dirt
  bool broken = false;  ///< the line of light that the edge shows on both sides is broken here
};

/// The part of a rounding that its light reaches, by the leans of its first and last normal as the fit has them.
struct LitBand {
  double from_rad = 0;
  double to_rad = 0;
};

/// What one fit of the strip rested on; the same along one edge.
struct StripModel {
  double lean_rad = 0;        ///< sight line against the plate's normal, square to the edge, as assumed
  double horizon_rad = 0;     ///< normal, against the sight line, beyond which the strip mirrors what lies below
  double start_rad = 0;       ///< normal, against the sight line, at which the strip stops looking like the flat
  bool flat_flashes = false;  ///< the flat top mirrors the lamp itself
  double blur_px = 0;         ///< standard deviation of the blur, at the edge itself
  /// The slip lies ahead of the edge: the part that mirrors it is told by its colour from what shines by itself.
  /// Without it a dark gullet's mirror image and the gullet look alike.
  bool mirror_told = false;
  /// The light ends before the horizon: a small lamp, whose image's inner end is not the rounding's either. The fit took
  /// it for that.
  std::optional<LitBand> partly;
  /// Relative standard uncertainty of every width, because the light's own shape over the rounding is unknown.
  double u_light = 0;
};

/// What one look at a top plate shows of its outline.
struct PlateLines {
  std::vector<Point2> rear_px;        ///< sub-pixel points of the rear end
  double rear_half_range_px = 0;      ///< its outline lies within so much to either side of them
  bool rear_rim_seen = false;         ///< they are its rounded rim's outline, told from the end of the flat
  std::vector<Point2> outer_side_px;  ///< of the side edge at the working corner
  std::vector<Point2> inner_side_px;  ///< of the other side edge
  double shoulder_change = 0;         ///< how the light changes beside the outer side: over 0.4 mostly a rounded corner
  Point2 corner_px = Point2::Zero();  ///< where outer side and edge line would meet
  std::vector<ContourPoint> contour;  ///< the edge's outline, chips included, about a pixel apart, from the corner on
};

/// One top plate seen from above.
struct PlateOutline : PlateLines {
  bool rear_in_doubt = false;     ///< another rear end fits the same edge almost as well
  std::vector<EdgeStation> edge;  ///< from the working corner to the inner end, evenly spaced
  StripModel strip;
  /// The same plate found and followed again between the first look's samples. Where lower metal or a mirror image
  /// looks like an outline, what is taken for one hangs on small things; these tell by how much. Fewer where a look
  /// found no such plate.
  std::vector<PlateLines> again;
};

/// A plate that was recognised but not traced.
struct PlateLeftOut {
  Point2 at_px = Point2::Zero();
  std::string why;
};

/// All that trace found in a plan photograph; pixels are not interpreted after this.
struct PlanOutlines {
  std::vector<PlateOutline> plates;
  std::vector<PlateLeftOut> left_out;
  std::vector<Point2> links_px;  ///< two points of a line along the links seen beside the plates, or none
  std::vector<std::string> notes;
};

}  // namespace glintline
