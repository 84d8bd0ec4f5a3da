#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"
#include "model/chain_event.h"
#include "model/recorded_inspection.h"

namespace soci {
class session;
}

namespace glintline {

enum class RecordOpening {
  kExisting,  ///< a record that is not there is an Error
  kCreateIfAbsent,
};

/// What an import did.
struct ImportCount {
  int added = 0;
  int already_there = 0;
};

/// The record of chains: inspections and events, in an SQLite file or a PostgreSQL database, by the same code.
///
/// What is added is there whole or not at all: one transaction each, flushed to the disk before `add` returns. Several
/// programs may read and write one record at once; writers queue for up to half a minute. A record of an older
/// program is brought up to date when it is opened; one of a newer program is refused and left as it is.
///
/// Tables, for other programs to read: glintline_inspections, glintline_photographs, glintline_cutters,
/// glintline_values, glintline_events. `document` is the exact JSON line (record/record_json.h); all else is drawn from
/// it. Fails: kFileMissing where the record cannot be opened or read, kBadOption for what must not go in, kCannotWrite.
class Record {
 public:
  /// `where`: a file's path, or "postgresql://user@host/database", or "postgresql:host=... dbname=..." (libpq's words).
  [[nodiscard]] static Result<Record> open(const std::string& where, RecordOpening opening);
  /// The same up to an earlier schema only, so that tests can make a record as an earlier program left it.
  [[nodiscard]] static Result<Record> open_at_version(const std::string& where, RecordOpening opening, int version);

  Record(Record&&) noexcept;
  Record& operator=(Record&&) noexcept;
  ~Record();

  [[nodiscard]] Result<Done> add(const RecordedInspection& recorded);
  [[nodiscard]] Result<Done> add(const ChainEvent& event);
  /// Adds an exported line unless it is there already; the same id with other content is kBadOption.
  [[nodiscard]] Result<ImportCount> add_line(std::string_view json_line);

  /// In order of time; of one chain, or with an empty name of all.
  [[nodiscard]] Result<std::vector<RecordedInspection>> inspections(const std::string& chain) const;
  [[nodiscard]] Result<std::vector<ChainEvent>> events(const std::string& chain) const;
  /// Names of all chains, sorted.
  [[nodiscard]] Result<std::vector<std::string>> chains() const;

  /// Hands every document to `line`, oldest first, inspections before events of the same time, without holding them
  /// all. Stops at the first Error.
  [[nodiscard]] Result<Done> each_line(const std::function<Result<Done>(std::string_view)>& line) const;

 private:
  Record(std::string where, std::unique_ptr<soci::session> session, int version);

  std::string where_;  ///< as a person may see it: without a password
  std::unique_ptr<soci::session> session_;
  int version_;
};

/// The schema this program writes.
inline constexpr int kRecordSchema = 2;

}  // namespace glintline
