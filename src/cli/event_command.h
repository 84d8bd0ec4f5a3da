#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/exit_code.h"

namespace glintline {

enum class EventKind { kJob, kFiling, kBought, kCut };

/// What the user typed behind `glintline event`, unread. Empty means not given.
struct EventOptions {
  std::string record;
  std::string chain;
  std::string at;
  std::string note;
  std::optional<double> hours;
  std::optional<double> tanks;
  std::optional<double> area_m2;
  std::string wood;
  bool dirt = false;
  bool metal = false;
  std::string who;
  std::optional<double> strokes;
  std::vector<std::string> strokes_on;  ///< "7:9": nine on cutter 7
  std::optional<double> cost;
  std::optional<double> price;
  std::string currency;
  std::optional<double> seconds;
  std::string section;  ///< cm², "491+-10"
};

/// `glintline event`: writes into the record what happened to a chain.
[[nodiscard]] ExitCode note_event(EventKind kind, const EventOptions& options);

}  // namespace glintline
