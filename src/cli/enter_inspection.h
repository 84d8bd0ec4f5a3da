#pragma once

#include <string>

#include "base/result.h"
#include "model/recorded_inspection.h"

namespace glintline {

/// How an inspection goes into the record, as the user typed it. Empty means not given.
struct EnterOptions {
  bool enter = false;  ///< it shall go in at all
  std::string record;  ///< where the record is; says that it shall go in, too
  std::string at;
  std::string stage;  ///< "new", "after dirt"; says so as well

  [[nodiscard]] bool wanted() const { return enter || !record.empty() || !at.empty() || !stage.empty(); }
};

/// The inspection with an id of its own, the time and the stage. Fails: kBadOption for a time that is none, before
/// any photograph is looked at if called with an empty inspection.
[[nodiscard]] Result<RecordedInspection> recorded_as(const ChainInspection& inspection, const EnterOptions& options);

/// Enters it. Fails as Record does.
[[nodiscard]] Result<Done> enter_inspection(const RecordedInspection& recorded, const EnterOptions& options);

}  // namespace glintline
