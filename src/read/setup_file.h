#pragma once

#include <filesystem>
#include <optional>

#include "base/result.h"
#include "model/chain_sheet.h"
#include "model/setup.h"

namespace glintline {

/// A set-up as read from its file: what photographs are measured with, and the chain they show.
struct BenchSetup {
  Setup setup;                      ///< its `chain` is the sheet's geometry, the set-up's own pitch before the sheet's
  std::optional<ChainSheet> sheet;  ///< the chain's sheet, if the set-up names one; its pitch is the set-up's too
};

/// Reads a set-up (TOML 1.0; calib/README.md lists the keys) and the camera file and chain sheet it names, whose paths
/// are relative to the set-up's own folder. All keys are optional.
/// Fails with kFileMissing, or kBadOption with file and line, also for the files it names.
[[nodiscard]] Result<BenchSetup> read_setup_file(const std::filesystem::path& path);

}  // namespace glintline
