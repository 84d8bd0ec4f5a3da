#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "cli/look_order.h"
#include "pipeline/inspect_chain.h"

namespace glintline {

/// What `glintline inspect` and `glintline compare` have in common. Empty means not given.
struct ChainWorkOptions {
  LookOptions look;  ///< set-up and chain; its photographs and outputs are not used here
  std::string list;
  std::optional<int> first;
  std::vector<std::string> found;
  std::string strokes_from;
  std::string keep;    ///< folder for finished photographs; the user's cache folder where not given
  bool fresh = false;  ///< measure all anew
};

/// Reads what the options name. Fails: kBadOption or kFileMissing, `where` naming the option or the place in the file.
[[nodiscard]] Result<ChainOrder> chain_order_of(const ChainWorkOptions& options);

/// Measures, numbers, judges and plans, telling on standard error how far it is and how long it still takes.
[[nodiscard]] ChainInspection inspected(const std::vector<std::filesystem::path>& photos, const ChainOrder& order);

/// How long `left` more photographs take, when `done` took `seconds`: "about 40 s", "about 3 min". Nothing before the
/// first one is done.
[[nodiscard]] std::string time_left(std::size_t done, std::size_t left, double seconds);

}  // namespace glintline
