#pragma once

#include <soci/soci.h>

#include "model/recorded_inspection.h"

namespace glintline {

/// A transaction that others' writes wait for; rolled back unless committed. On SQLite it takes the write lock at once
/// (BEGIN IMMEDIATE), because a reader that turns writer later is refused rather than queued. Throws soci_error.
class WriteTransaction {
 public:
  explicit WriteTransaction(soci::session& session);
  ~WriteTransaction();
  WriteTransaction(const WriteTransaction&) = delete;
  WriteTransaction& operator=(const WriteTransaction&) = delete;

  void commit();

 private:
  soci::session& session_;
  bool open_ = true;
};

/// 0 where there is no record yet. Throws soci_error.
[[nodiscard]] int schema_version(soci::session& session);

/// Whether the database holds tables of somebody else and no record. Only SQLite is asked: a PostgreSQL database is
/// shared by its nature. Throws soci_error.
[[nodiscard]] bool belongs_to_others(soci::session& session);

/// Brings the schema from what it is to `version`, step by step, inside the caller's transaction. Throws soci_error.
void migrate(soci::session& session, int version);

/// Writes the rows that are drawn from an inspection's document. Throws soci_error.
void put_inspection_rows(soci::session& session, const RecordedInspection& recorded, int version);

}  // namespace glintline
