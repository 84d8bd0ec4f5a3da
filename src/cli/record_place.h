#pragma once

#include <string>

#include "base/result.h"
#include "record/record.h"

namespace glintline {

/// Where the record is: what the user said, else $GLINTLINE_RECORD, else a file in the user's own data folder
/// ($XDG_DATA_HOME/glintline or ~/.local/share/glintline), which is made where it is missing.
[[nodiscard]] Result<std::string> record_place(const std::string& said, RecordOpening opening);

/// record_place and Record::open in one.
[[nodiscard]] Result<Record> open_record(const std::string& said, RecordOpening opening);

/// 32 hexadecimal digits by chance: no two programs at two benches ever make the same.
[[nodiscard]] std::string fresh_record_id();

/// Now, local: "2026-11-02T14:30".
[[nodiscard]] std::string local_time_now();

/// "2026-11-02", "2026-11-02T14:30" or with a space between; empty is now. Fails: kBadOption.
[[nodiscard]] Result<std::string> parse_record_time(const std::string& text);

/// The name the user means: the one given, or the record's only chain. Fails: kBadOption, naming the chains there are.
[[nodiscard]] Result<std::string> chain_meant(const Record& record, const std::string& said);

}  // namespace glintline
