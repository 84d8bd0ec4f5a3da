#pragma once

#include <cstddef>
#include <vector>

#include "trace/plan_edge.h"

namespace glintline {

/// Rows first to last (exclusive) whose outline lies off the straight line to one side.
struct Excursion {
  std::size_t first = 0;
  std::size_t last = 0;
};

/// Red less blue, as a share of all light; of square roots of light.
[[nodiscard]] double warmth(const cv::Vec3d& roots);

/// Runs of rows that lie off by `threshold` or more.
[[nodiscard]] std::vector<Excursion> excursions(const std::vector<double>& off, double threshold);

/// Columns smoothed by the middle of their neighbours, so many to either side: a scratch that runs on from a gap is no
/// part of it.
[[nodiscard]] std::vector<int> middles(const std::vector<int>& columns, std::size_t around);

/// Moves one row of a path, and its column, to another column.
void move_row(EdgePath& path, std::vector<int>& columns, const EdgeStrip& strip, std::size_t row, int column);

/// Where the line of light is broken, the outline is where the row turns from the plate to what shows ahead of the line
/// as well: that need not look like the ground. Returns the rows told so; fills EdgePath::broken.
/// `columns`: the path's, kept with it; `roots`: square root of the strip's light.
std::vector<bool> follow_breaks(EdgePath& path, std::vector<int>& columns, const EdgeStrip& strip, const cv::Mat& roots,
                                double px_per_mm);

/// Gives up what is followed behind the edge's line though the light changes at that: a mark on the plate, not a gap.
void give_up_marks(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots);

/// Fills EdgePath::open: gaps, in which what lies ahead of the edge's line shows, are told from what only looks like
/// them.
void tell_gaps(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots);

}  // namespace glintline
