#pragma once

#include <string>

#include "model/chain_inspection.h"

namespace glintline {

/// A chain's inspection as it lies in the record.
struct RecordedInspection {
  std::string id;     ///< never the same twice, in any record
  std::string chain;  ///< ChainSheet::name, or what the user called it
  std::string at;     ///< local date, or date and time: "2026-11-02", "2026-11-02T14:30"
  std::string stage;  ///< as the user says it: "new", "after clean work", "after dirt", "after filing"; may be empty
  std::string program_version;
  ChainInspection inspection;
};

}  // namespace glintline
