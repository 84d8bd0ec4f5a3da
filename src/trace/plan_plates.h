#pragma once

#include <vector>

#include "trace/plan_band.h"

namespace glintline {

/// A top plate as found in the band: four straight sides, band samples. Lines: x = at + slope (y - middle row) for
/// rear and front, y = at + slope (x - middle column) for the sides.
struct PlateCandidate {
  std::array<Point2, 2> rear;   ///< its ends: at the upper side, at the lower side
  std::array<Point2, 2> front;  ///< the same of the cutting edge
  double score = 0;             ///< supported minus unsupported length, mm

  [[nodiscard]] double middle() const { return (rear[0].x() + rear[1].x() + front[0].x() + front[1].x()) / 4; }
};

/// Straight outlines that make a top plate: a rear end square to the chain, two sides along it, an oblique edge.
/// The best first; none overlaps another.
[[nodiscard]] std::vector<PlateCandidate> find_plates(const PlanBand& band);

/// Straight lines along the chain beside the plates (links, drive links), pairs of points in the board frame at the
/// band's height.
[[nodiscard]] std::vector<std::vector<Point2>> find_chain_lines(const PlanBand& band,
                                                                const std::vector<PlateCandidate>& plates);

}  // namespace glintline
