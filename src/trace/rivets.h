#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <vector>

#include "model/camera_view.h"
#include "model/profile_outlines.h"

namespace glintline {

/// Rivet heads standing in a row, before refinement. Frame: pixels of the plane picture they were found in.
struct RivetRow {
  std::vector<Point2> centres;  ///< in order along the row
  double spacing = 0;
};

/// Finds the row of rivet heads: circles by their outlines' gradients (each edge pixel votes for the centres it could
/// belong to; Ballard 1981, "Generalizing the Hough transform", for circles of known size range), then the straight,
/// evenly spaced set of them with the most support, of one radius or of any. Printed squares, tags and wood form no
/// such set.
///
/// in: grey plane picture, `mm_per_px` its scale. Heads of 3.4 to 6.8 mm, spacings of 5.5 to 11.5 mm (saw chain from
/// 1/4 to .404 in: heads 4 to 6 mm, from memory; pitches 6.35 to 10.26 mm, common practice).
///
/// out: empty where no three heads stand in a row.
[[nodiscard]] RivetRow find_rivet_row(const cv::Mat& grey, double mm_per_px);

/// Where to look closely for a head.
struct RivetSearch {
  Point2 near_mm = Point2::Zero();  ///< board frame, in the plane of height_mm
  double height_mm = 0;             ///< of the heads' outlines over the card
};

/// Heads looked at closely: first the radius that all of them agree on (one chain, one kind of rivet), then for each
/// the circle, in its plane parallel to the card, that the steepest edges near it agree on.
/// out: one entry a search; nothing where fewer than half of the directions agree: no head there, or hidden.
[[nodiscard]] std::vector<std::optional<RivetOutline>> refine_rivets(const cv::Mat& bgr, const CameraView& view,
                                                                     const std::vector<RivetSearch>& searches);

}  // namespace glintline
