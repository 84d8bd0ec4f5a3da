#pragma once

#include <optional>
#include <string>

#include "cli/exit_code.h"

namespace glintline {

/// What the user typed behind `glintline card`.
struct CardCommandOptions {
  std::string kind = "wide";
  std::optional<double> square_mm;
  std::string tags;      ///< "7" or "1-36": number tags instead of the card
  bool block = false;    ///< the plan view's block instead of the card
  bool cut_out = false;  ///< the field as an opening, for coloured paper behind it
  std::optional<double> slot_mm;
  std::optional<double> chain_height_mm;
  std::string paper = "a4";
  double dpi = 600;
  std::string output;  ///< by default a name of its own in the working directory
};

/// `glintline card`: draws a sheet and says where it is and how to print it.
[[nodiscard]] ExitCode draw_sheet(const CardCommandOptions& options);

}  // namespace glintline
