#pragma once

#include <string>
#include <vector>

#include "cli/exit_code.h"
#include "read/chain_sheet_text.h"

namespace glintline {

/// What the user typed behind `glintline chain new`.
struct NewChainOptions {
  std::string file;
  std::vector<SheetAnswer> answers;  ///< one a question, empty where not given
  bool ask = false;                  ///< ask for what was not given
  bool overwrite = false;
};

/// Answers without a value, one a question of the sheet.
[[nodiscard]] std::vector<SheetAnswer> open_answers();

/// "--pitch-mm" for "pitch_mm", "--retired-length-mm" for "limits.retired_length_mm"
[[nodiscard]] std::string option_of(const SheetQuestion& question);

/// `glintline chain new FILE`: writes a commented sheet from the options; with --ask it asks on the terminal for the
/// rest, and asks again where an answer makes no sense. A file that is there is not overwritten unasked.
[[nodiscard]] ExitCode new_chain(const NewChainOptions& options);

}  // namespace glintline
