#pragma once

#include "cli/chain_work.h"
#include "cli/enter_inspection.h"
#include "cli/exit_code.h"

namespace glintline {

/// What the user typed behind `glintline inspect`.
struct InspectOptions {
  ChainWorkOptions work;
  std::vector<std::string> photos;
  std::string json;
  std::string csv;
  std::string html;
  EnterOptions enter;  ///< into the record
};

/// `glintline inspect`: all photographs of one chain, its verdict and filing plan.
[[nodiscard]] ExitCode inspect(const InspectOptions& options);

/// What the user typed behind `glintline compare`.
struct CompareOptions {
  ChainWorkOptions work;
  std::string before;
  std::string after;
  bool same_card = false;
  std::string strokes;  ///< "6" for every cutter, or "1:5,2:6"
  std::string learn;    ///< file that the counted strokes are added to
  std::string json;
  std::string html;
};

/// `glintline compare`: one chain before and after work on it.
[[nodiscard]] ExitCode compare(const CompareOptions& options);

}  // namespace glintline
