#pragma once

#include <filesystem>
#include <functional>
#include <vector>

#include "judge/number_cutters.h"
#include "model/chain_inspection.h"
#include "model/stroke_count.h"
#include "pipeline/inspect.h"
#include "read/cutter_list.h"

namespace glintline {

/// What a chain is inspected with.
struct ChainOrder {
  Order order;
  ChainSheet sheet;
  std::vector<ListedPhoto> list;        ///< the user's own list of photographs
  std::optional<int> start;             ///< number of the first cutter in order, where nothing else tells
  std::vector<ReportedFault> reported;  ///< what the user saw himself
  std::vector<StrokeCount> strokes;     ///< counted before: what one stroke takes off
  std::filesystem::path keep;           ///< folder for finished photographs; empty: nothing is kept
};

/// Who hears of the work; may be empty. `finished` is called one at a time.
struct ChainWatch {
  unsigned workers = 0;  ///< 0: one a core
  std::function<void(std::size_t index, const Photo&, const Inspection&)> witness;
  std::function<void(std::size_t index, const Inspection&, bool kept)> finished;  ///< kept: from an earlier start
};

/// All photographs of one chain, measured side by side (memory bounded by the workers), numbered, joined, judged and
/// planned. Never fails: what could not be measured stands among the photographs with its reason, and among the
/// retakes. A finished photograph is kept at once, so that stopped work goes on there.
[[nodiscard]] ChainInspection inspect_chain(const std::vector<std::filesystem::path>& photos, const ChainOrder& order,
                                            const ChainWatch& watch = {}, const Stages& stages = own_stages());

/// The same from photographs already inspected: everything behind the measuring. No clock, no files.
[[nodiscard]] ChainInspection assembled_chain(std::vector<Inspection> photos, const ChainOrder& order);

}  // namespace glintline
