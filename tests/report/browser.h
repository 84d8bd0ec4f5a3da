#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace glintline::testing {

/// What a run of headless Chromium left.
struct BrowserRun {
  int code = -1;
  std::string out;                   ///< standard output: the page with --dump-dom
  std::vector<std::string> console;  ///< what the page's scripts and the engine complained of
};

/// Runs Chromium without a window and without a network on a page; nothing where it is not installed.
[[nodiscard]] std::optional<BrowserRun> browse(const std::filesystem::path& page,
                                               const std::vector<std::string>& options);

}  // namespace glintline::testing
