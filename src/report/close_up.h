#pragma once

#include <vector>

#include "model/inspection.h"
#include "model/photo.h"
#include "report/pixel_canvas.h"

namespace glintline {

/// Turns, scales and shifts; never mirrors. Positions in a close-up follow PixelCanvas.
struct Similarity {
  Eigen::Matrix2d turn_and_scale = Eigen::Matrix2d::Identity();
  Point2 shift = Point2::Zero();

  [[nodiscard]] Point2 operator()(const Point2& point) const { return turn_and_scale * point + shift; }
};

/// One cutter, large and the right way up (top plate above the rivets; from above: chain lying level), with all that
/// was measured marked on it and labels that cover none of it.
struct CloseUp {
  const InspectedCutter* cutter;
  Similarity canvas_from_photo;
  Area place;    ///< of the picture
  Area chart{};  ///< under it, of what was found along the edge; no height where there is none
};

/// Close-ups of all cutters that were measured and have marks, in order, at one common scale (canvas pixels per
/// photograph pixel) so that each fits into its place. As many places as such cutters are needed.
[[nodiscard]] std::vector<CloseUp> close_ups_of(const Inspection& inspection, const std::vector<Area>& places);

/// The cutters that `close_ups_of` shows.
[[nodiscard]] std::vector<const InspectedCutter*> shown_cutters(const Inspection& inspection);

void draw_close_up(PixelCanvas& canvas, const Photo& photo, const CloseUp& close_up);

}  // namespace glintline
