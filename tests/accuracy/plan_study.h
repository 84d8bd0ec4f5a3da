#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "accuracy/profile_study.h"
#include "model/edge_chart.h"

namespace glintline::testing {

/// One edge of a plan photograph: what its light allowed, and what was found on it.
struct StudiedEdge {
  std::string photo;
  std::string cutter;
  double true_radius_um = 0;  ///< median over the undamaged edge
  double true_radius_px = 0;
  std::optional<Quantity> radius_um;
  std::optional<double> limit_um;
  double limit_px = 0;
  std::string why;  ///< reason for a missing radius
  bool chips_searched = false;
  int chips = 0;  ///< in truth, of 0.1 mm and more
  int chips_found = 0;
  int broken_corners = 0;  ///< in truth, of 0.1 mm and more
  int broken_corners_found = 0;
  int chips_invented = 0;  ///< of 0.1 mm and more, where truth has nothing of half that depth
  std::vector<double> depth_errors_mm;
  std::vector<double> depth_truths_mm;
};

/// True where a radius was given, within the wished-for accuracy of 15 % or 6 um.
[[nodiscard]] bool radius_right(const StudiedEdge& edge);

/// What became of radii and chips over several edges.
struct EdgeCounts {
  int edges = 0;
  int radii = 0;
  int right = 0;   ///< of these, within the wished-for accuracy
  int limits = 0;  ///< stated instead of a radius
  int limits_hold = 0;
  int searched = 0;  ///< seen whole for chips: where a part looks like the metal beneath, a chip may be missed
  int whole = 0;     ///< of these, without a chip
  int chips = 0;     ///< on these, 0.1 mm and more
  int found = 0;
  int invented = 0;
  int broken_corners = 0;
  int broken_corners_found = 0;

  void add(const StudiedEdge& edge);
};

struct PlanStudy {
  ProfileStudy compared;  ///< lengths, angles, radii; and how cutters were found
  std::vector<StudiedEdge> edges;
  double seconds_per_photo = 0;  ///< of tracing and measuring, mean
};

/// Which stand-off the set-up gives: the true height of the top plates, off by up to 0.15 mm to either side and known
/// to 0.3 mm (two standard uncertainties), or nothing.
enum class StandOff { kGiven, kUnknown };

/// Reads, locates, traces and measures every plan photograph of a folder that has a truth file beside it; a `rework`
/// changes each one's pixels first.
[[nodiscard]] PlanStudy study_plans(const std::filesystem::path& folder, StandOff stand_off, const Rework& rework = {});

[[nodiscard]] EdgeCounts counts_of(const PlanStudy& study);

/// The same in words, as lines under a summary.
[[nodiscard]] std::string counted_edges(const EdgeCounts& counts);

[[nodiscard]] std::string table_of(const PlanStudy& study, const std::string& title);

}  // namespace glintline::testing
