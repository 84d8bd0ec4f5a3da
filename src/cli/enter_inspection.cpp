#include "cli/enter_inspection.h"

#include "cli/record_place.h"
#include "pipeline/inspect.h"

namespace glintline {

Result<RecordedInspection> recorded_as(const ChainInspection& inspection, const EnterOptions& options) {
  const Result<std::string> at = parse_record_time(options.at);
  if (!at.ok()) return at.error();
  return RecordedInspection{fresh_record_id(), inspection.sheet.name, *at,
                            options.stage,     program_version(),     inspection};
}

Result<Done> enter_inspection(const RecordedInspection& recorded, const EnterOptions& options) {
  Result<Record> opened = open_record(options.record, RecordOpening::kCreateIfAbsent);
  if (!opened.ok()) return opened.error();
  Record record = std::move(opened).value();
  return record.add(recorded);
}

}  // namespace glintline
