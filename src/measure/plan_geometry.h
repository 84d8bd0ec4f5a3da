#pragma once

#include <optional>
#include <vector>

#include "math/geometry.h"
#include "measure/plan_chips.h"
#include "measure/plan_corner.h"
#include "model/camera_view.h"
#include "model/plan_outlines.h"

namespace glintline {

/// What the working corner looks like.
enum class CornerKind {
  kSharp,    ///< the outline runs straight to the corner (chisel), worn or not
  kRounded,  ///< semi-chisel: it leaves the edge's line long before the corner
  kBroken,   ///< a gap takes the corner itself
  kUnseen,   ///< it looks like the metal beneath
};

struct WorkingCorner {
  CornerKind kind = CornerKind::kSharp;
  std::optional<FoundChip> gap;   ///< of a broken corner; along the edge from where the lines meet
  std::optional<OutlineEnd> end;  ///< where lower metal shows in the plate's place
  double bent_share = 0;          ///< of the contour, from its beginning on: the bend of a rounded corner
};

/// What is assumed of the space a plate stands in.
struct PlanSpace {
  CameraView view;
  double height_mm = 0;       ///< top plate over the card, at the cutting edge's corner
  double slope_rad = 0;       ///< fall towards the rear
  double rear_drop_mm = 0;    ///< outline of the rear rim under the sloping plane
  double corner_drop_mm = 0;  ///< foremost point under the sloping plane
  std::optional<bool> chisel;  ///< as the sheet says; nothing: the light beside the outer side tells what it can
  double turns = 0;           ///< chain against the direction that sides and links tell, in its standard uncertainties
  std::vector<Point2> links_px;         ///< two points of a line along the links, or none
  std::optional<WorkingCorner> corner;  ///< as decided before; nothing: the outline decides
};

/// A plate's sloping top plane in the board frame; a point in it is named by its (X, Y).
class PlateSpace {
 public:
  PlateSpace(const PlanSpace& space, const Point2& corner_px, const Point2& running);

  /// Where the sight line through `px` meets the plane, `below_mm` under it.
  [[nodiscard]] Point2 at(const Point2& px, double below_mm = 0) const;
  [[nodiscard]] Point2 pixel(const Point2& board_mm) const;
  /// Length of a step square to the sight line, at the plane: mm per px.
  [[nodiscard]] double across_sight(const Point2& px, const Point2& step_px) const;
  /// Sight line against the plate's normal in the plane square to `edge`, positive when it sees further round it.
  [[nodiscard]] double lean(const Point2& px, const Line2& edge) const;
  [[nodiscard]] double height_at(const Point2& board_mm) const;

 private:
  CameraView view_;
  Point3 eye_;
  Point2 corner_;
  Point2 running_;
  double height_;
  double fall_;
};

/// What one plate's outlines give under one assumption. Board frame and chain frame, mm and rad.
struct PlanGeometry {
  Point2 running = Point2::UnitX();  ///< chain's direction
  Line2 edge;                        ///< undamaged edge, from the working corner inwards
  Point2 corner = Point2::Zero();    ///< where outer side and edge would meet
  Point2 foremost = Point2::Zero();  ///< foremost point of the outline as it is
  Point2 rear = Point2::Zero();      ///< middle of the rear end
  double edge_length = 0;
  /// Foot of the working corner on the edge's line, along it from `corner`: a rounded corner is foremost inside the
  /// side.
  double corner_foot = 0;
  double straight_from = 0;  ///< along the edge from `corner`: nearer to it a rounded corner bends
  double length = 0;  ///< rear end to foremost point, along the chain
  /// Rear end to the corner as the lines would meet; at a rounded corner, which never reaches there, the length itself.
  double whole_length = 0;
  double edge_angle = 0;
  double lean = 0;       ///< of the sight line, at the edge's middle
  double mm_per_px = 0;  ///< square to edge and sight line
  WorkingCorner working_corner;
  double corner_setback = 0;  ///< of a chisel's foremost point behind the lines' crossing when nothing is worn, usual
  bool right_hand = false;

  double u_rear = 0;    ///< standard uncertainties from the outlines alone, mm and rad: of the rear end,
  double u_corner = 0;  ///< of the foremost point,
  double u_hidden = 0;  ///< of the foremost point because the outline cannot be followed up to it,
  double u_angle = 0;   ///< of the edge's angle
};

/// fails (nothing): sides, rear end or edge do not make straight lines.
[[nodiscard]] std::optional<PlanGeometry> plan_geometry(const PlateOutline& plate, const PlanSpace& space);

/// The edge's outline in its own frame.
[[nodiscard]] std::vector<Recession> recession_of(const PlateOutline& plate, const PlanGeometry& geometry,
                                                  const PlateSpace& space);

/// Along the edge from the corner, and behind its line (positive: recession), of a pixel.
[[nodiscard]] Point2 along_and_behind(const PlanGeometry& geometry, const Point2& board_mm);

}  // namespace glintline
