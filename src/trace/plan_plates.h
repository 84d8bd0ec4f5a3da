#pragma once

#include <algorithm>
#include <array>
#include <utility>
#include <vector>

#include "trace/plan_band.h"

namespace glintline {

/// A top plate as found in the band: four straight sides, band samples. Lines: x = at + slope (y - middle row) for
/// rear and front, y = at + slope (x - middle column) for the sides.
struct PlateCandidate {
  std::array<Point2, 2> rear;   ///< its ends: at the upper side, at the lower side
  std::array<Point2, 2> front;  ///< the same of the cutting edge
  /// Supported minus unsupported length over the square root of all of it (what chance supports grows with that root),
  /// less what angle and light speak against it.
  double score = 0;
  /// The same of the best outline that contradicts this one's edge; of one that contradicts a better plate too, as much
  /// less than this one's as it has less than that plate's. 0 where there is none.
  double rival = 0;
  double rear_rival = 0;  ///< the same of those with this one's edge and another rear end

  [[nodiscard]] double middle() const { return (rear[0].x() + rear[1].x() + front[0].x() + front[1].x()) / 4; }
  /// First and last column of its corners.
  [[nodiscard]] std::pair<double, double> columns() const {
    return std::minmax({rear[0].x(), rear[1].x(), front[0].x(), front[1].x()});
  }
  /// The cutting edge lies at larger columns than the rear end.
  [[nodiscard]] bool runs_forward() const { return front[0].x() + front[1].x() > rear[0].x() + rear[1].x(); }
};

/// What a band holds.
struct FoundPlates {
  std::vector<PlateCandidate> plates;  ///< the best first; all run the same way, none too near another
  /// Direction of the links beside the plates, as a line of two band samples; empty where too little is straight.
  /// Links lie lower than the band's height, which shifts them, but parallels to the card keep their direction.
  std::vector<Point2> links;
};

/// Straight outlines that make a top plate: a rear end square to the chain, two sides along it, an oblique edge.
[[nodiscard]] FoundPlates find_plates(const PlanBand& band);

}  // namespace glintline
