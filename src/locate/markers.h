#pragma once

#include <array>
#include <vector>

#include "base/result.h"
#include "card/layout.h"
#include "model/card_pose.h"
#include "model/photo.h"

namespace glintline {

/// A printed marker as the picture shows it, coarse: found on a reduced picture.
struct SeenMarker {
  int id = 0;
  std::array<Point2, 4> corners_px;  ///< clockwise from the marker's own top left, full-size upright pixels
};

/// The markers that agree on one card.
struct CardMarkers {
  CardKind kind = CardKind::kWide;
  std::vector<SeenMarker> markers;  ///< of the card; at least kNeededSquares
  std::vector<NumberTag> tags;
  Eigen::Matrix3d px_from_squares;  ///< homography from board squares (side = 1) to pixels, without distortion
  double corner_u_px = 1;           ///< standard uncertainty of a corner coordinate, full-size pixels
};

/// Fewest markers a card is accepted from: four settle a homography, the rest are there to contradict wrong ones.
inline constexpr int kNeededSquares = 12;

/// Looks for the card's markers on a reduced picture, finer and at other thresholds where too few are found. Markers
/// tell which square is where; nothing is measured with them, because blur moves their corners.
/// Fails: kNoCard, kWrongCard (markers of another family, or ids that do not stand as on our card), kCardHidden.
[[nodiscard]] Result<CardMarkers> find_markers(const Photo& photo);

}  // namespace glintline
