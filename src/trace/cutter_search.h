#pragma once

#include <opencv2/core.hpp>
#include <vector>

#include "math/geometry.h"
#include "trace/rivets.h"

namespace glintline {

/// A place in the row of rivets where a cutter sits.
struct CutterPlace {
  int rear = 0;        ///< index of its rear rivet in the row
  int front = 0;       ///< index of its front rivet, one up or one down
  double clarity = 0;  ///< least margin of the pattern below, in pitches
  double forward = 0;  ///< evidence that it faces this way, over 0, and not the other
};

/// Where the cutters are, and which way the chain runs.
struct CutterPattern {
  bool up_is_left = false;  ///< "away from the bar" lies to the left of the row's direction (y down: smaller y)
  bool runs_back = false;   ///< the chain runs against the row's order
  std::vector<CutterPlace> places;
};

/// Finds the cutters by their silhouette over the field: seen along the rivet line, a top plate over the rear rivet
/// and a depth gauge over the front one, a gullet between, and free field ahead and behind (common practice, no
/// source: every saw-chain cutter is built so). Drive-link tangs stand singly between the rivets of *other* links.
/// in: `solid`, CV_8U plane picture: 0 field, 255 not field, 128 outside the field; the row in its pixels.
/// out: the likeliest pattern first; after it that of the other side of the row, where tangs stand over the field too
/// and it is more than half as likely. Empty where there is no cutter.
[[nodiscard]] std::vector<CutterPattern> find_cutters(const cv::Mat& solid, const RivetRow& row);

/// True where any pair of heads of a row that was found coarsely has a cutter's silhouette about it, facing either way:
/// a hundredth of the work of looking at the heads closely, which pictures from above are spared by it.
[[nodiscard]] bool may_hold_cutters(const cv::Mat& solid, const RivetRow& row);

}  // namespace glintline
