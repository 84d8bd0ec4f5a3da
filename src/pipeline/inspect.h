#pragma once

#include <filesystem>
#include <functional>
#include <optional>
#include <vector>

#include "model/chain_sheet.h"
#include "model/inspection.h"
#include "model/photo.h"
#include "pipeline/stages.h"

namespace glintline {

/// What photographs are measured with and judged by.
struct Order {
  Setup setup;
  Limits limits;
  /// Where it is there, and a photograph gives a pitch that it does not, the limits come from the two together instead.
  std::optional<ChainSheet> sheet = std::nullopt;
  bool scale_from_pitch = false;  ///< a profile photograph without a card is measured by the chain's known pitch
};

/// Told of a photograph while its pixels are still in memory, as drawing needs it.
using PhotoWitness = std::function<void(const Photo&, const Inspection&)>;

/// One photograph's way from file to decision. Never fails: what stopped a stage becomes Inspection::refusal, and what
/// was known by then (hash, card) is kept. The view is the set-up's, else told from the picture: the profile is tried
/// first, because a row of rivet heads is mostly seen from the side; where it measures nothing of a cutter, the plan.
[[nodiscard]] Inspection inspect_photo(const std::filesystem::path& path, const Order& order,
                                       const PhotoWitness& witness = {}, const Stages& stages = own_stages());

/// How many are worked on side by side, and who hears of it. All callbacks may be empty.
struct Batch {
  unsigned workers = 0;  ///< 0: one a core
  /// In the worker, side by side with others: must be safe for that. `index` counts the photographs as given.
  std::function<void(std::size_t index, const Photo&, const Inspection&)> witness;
  /// In the worker: an inspection of this photograph that is already there and takes the place of the work.
  std::function<std::optional<Inspection>(std::size_t index)> known;
  /// One at a time, in the order in which they get done.
  std::function<void(std::size_t index, const Inspection&)> finished;
};

/// Many photographs; the inspections come in the order of the paths. Each worker holds one photograph at a time, so
/// memory is bounded by the workers, not by the photographs.
[[nodiscard]] std::vector<Inspection> inspect_photos(const std::vector<std::filesystem::path>& paths,
                                                     const Order& order, const Batch& batch = {},
                                                     const Stages& stages = own_stages());

/// "0.1.0"
[[nodiscard]] const char* program_version();

}  // namespace glintline
