#include "trace/rivet_spacing.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "trace/rivets.h"

namespace glintline {

namespace {

// Long side of what the picture shows: three rivets up to a hand's width.
constexpr double kNarrowestMm = 28;
constexpr double kWidestMm = 170;
constexpr double kStep = 1.12;
// A row found at a scale this far from its own pitch is another scale's.
constexpr double kWithin = 0.08;
constexpr std::size_t kLeastHeads = 4;
constexpr double kSearchMmPerPx = 0.15;  // heads are then about 30 px wide, as profile_trace.cpp looks for them

}  // namespace

std::optional<RivetSpacing> rivet_spacing(const Photo& photo, double pitch_mm) {
  cv::Mat grey;
  cv::cvtColor(photo.bgr, grey, cv::COLOR_BGR2GRAY);
  const double longer = std::max(grey.cols, grey.rows);
  std::optional<RivetSpacing> best;
  double best_off = 0;
  for (double seen_mm = kNarrowestMm; seen_mm <= kWidestMm; seen_mm *= kStep) {
    const double scale = seen_mm / kSearchMmPerPx / longer;
    if (scale > 1) continue;
    cv::Mat reduced;
    cv::resize(grey, reduced, cv::Size(), scale, scale, cv::INTER_AREA);
    const RivetRow row = find_rivet_row(reduced, kSearchMmPerPx);
    if (row.centres.size() < kLeastHeads) continue;
    const double off = std::abs(row.spacing * kSearchMmPerPx / pitch_mm - 1);
    const int heads = static_cast<int>(row.centres.size());
    if (off > kWithin || (best && (heads < best->heads || (heads == best->heads && off >= best_off)))) continue;
    const double along = (row.centres.back() - row.centres.front()).norm() /
                         std::round((row.centres.back() - row.centres.front()).norm() / row.spacing);
    best = RivetSpacing{along / scale, heads};
    best_off = off;
  }
  return best;
}

}  // namespace glintline
