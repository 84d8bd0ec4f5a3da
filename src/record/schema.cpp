#include "record/schema.h"

#include <string>
#include <vector>

#include "record/chain_fields.h"
#include "record/record_json.h"

namespace glintline {
namespace {

bool is_sqlite(const soci::session& session) { return session.get_backend_name() == "sqlite3"; }

/// A number of our own for PostgreSQL's advisory locks ("glint" in ASCII): two programs that open a fresh database at
/// once must not both make its tables.
constexpr long long kMigrationLock = 0x676C696E74;

bool has_table(soci::session& session, const std::string& name) {
  int count = 0;
  if (is_sqlite(session)) {
    session << "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = :name", soci::use(name),
        soci::into(count);
  } else {
    session << "SELECT count(*) FROM information_schema.tables WHERE table_schema = current_schema() AND "
               "table_name = :name",
        soci::use(name), soci::into(count);
  }
  return count > 0;
}

void make_first_tables(soci::session& session) {
  session << "CREATE TABLE glintline_schema (version INTEGER NOT NULL)";
  session << "INSERT INTO glintline_schema (version) VALUES (0)";
  session << "CREATE TABLE glintline_inspections (id TEXT PRIMARY KEY, chain TEXT NOT NULL, at TEXT NOT NULL, "
             "stage TEXT NOT NULL, program_version TEXT NOT NULL, action TEXT NOT NULL, document TEXT NOT NULL)";
  session << "CREATE TABLE glintline_photographs (inspection TEXT NOT NULL REFERENCES glintline_inspections (id), "
             "place INTEGER NOT NULL, sha256 TEXT NOT NULL, status TEXT NOT NULL, PRIMARY KEY (inspection, place))";
  session << "CREATE TABLE glintline_events (id TEXT PRIMARY KEY, chain TEXT NOT NULL, at TEXT NOT NULL, "
             "kind TEXT NOT NULL, document TEXT NOT NULL)";
}

struct NamedQuantity {
  const char* name;
  const char* unit;
  const std::optional<Quantity>& quantity;
};

std::vector<NamedQuantity> quantities_of(const CutterMeasurement& cutter) {
  return {{"length", "mm", cutter.length_mm},
          {"whole_length", "mm", cutter.whole_length_mm},
          {"gauge_drop", "mm", cutter.gauge_drop_mm},
          {"edge_angle", "rad", cutter.edge_angle_rad},
          {"top_slope", "rad", cutter.top_slope_rad},
          {"hook_angle", "rad", cutter.hook_angle_rad},
          {"corner_rounding", "um", cutter.corner_rounding_um},
          {"edge_radius", "um", cutter.edge_radius_um},
          {"edge_radius_p90", "um", cutter.edge_radius_p90_um}};
}

void put_values(soci::session& session, const std::string& id, const JoinedCutter& cutter) {
  const int chips = static_cast<int>(cutter.measured.chips.size());
  const std::string hand = cutter.measured.hand ? name_of(*cutter.measured.hand) : "";
  const std::string action = name_of(cutter.verdict.action);
  session << "INSERT INTO glintline_cutters (inspection, number, hand, action, chips) VALUES (:id, :number, :hand, "
             ":action, :chips)",
      soci::use(id), soci::use(cutter.number), soci::use(hand), soci::use(action), soci::use(chips);
  for (const NamedQuantity& named : quantities_of(cutter.measured)) {
    if (!named.quantity || !std::isfinite(named.quantity->value) || !std::isfinite(named.quantity->u())) continue;
    RecordJson budget;
    put(budget, named.quantity->budget);
    const std::string name = named.name;
    const std::string unit = named.unit;
    const std::string lines = budget.dump();
    const double u95 = kCoverage * named.quantity->u();
    session << "INSERT INTO glintline_values (inspection, number, quantity, unit, value, u95, budget) VALUES (:id, "
               ":number, :name, :unit, :value, :u95, :budget)",
        soci::use(id), soci::use(cutter.number), soci::use(name), soci::use(unit), soci::use(named.quantity->value),
        soci::use(u95), soci::use(lines);
  }
}

void put_cutters(soci::session& session, const RecordedInspection& recorded) {
  for (const JoinedCutter& cutter : recorded.inspection.cutters) put_values(session, recorded.id, cutter);
}

/// Values were in the documents alone before; other programs want them in columns.
void make_value_tables(soci::session& session) {
  session << "CREATE TABLE glintline_cutters (inspection TEXT NOT NULL REFERENCES glintline_inspections (id), "
             "number INTEGER NOT NULL, hand TEXT NOT NULL, action TEXT NOT NULL, chips INTEGER NOT NULL, "
             "PRIMARY KEY (inspection, number))";
  session << "CREATE TABLE glintline_values (inspection TEXT NOT NULL REFERENCES glintline_inspections (id), "
             "number INTEGER NOT NULL, quantity TEXT NOT NULL, unit TEXT NOT NULL, value DOUBLE PRECISION NOT NULL, "
             "u95 DOUBLE PRECISION NOT NULL, budget TEXT NOT NULL, PRIMARY KEY (inspection, number, quantity))";
  // Listed first: SQLite tolerates no other statement on a table that is being walked through and written beside.
  std::vector<std::string> documents;
  const soci::rowset<std::string> rows = (session.prepare << "SELECT document FROM glintline_inspections");
  documents.assign(rows.begin(), rows.end());
  for (const std::string& document : documents) {
    const Result<RecordedInspection> recorded = recorded_inspection_from_json(document);
    if (!recorded.ok()) throw soci::soci_error("an inspection in it cannot be read: " + recorded.error().what);
    put_cutters(session, *recorded);
  }
}

}  // namespace

WriteTransaction::WriteTransaction(soci::session& session) : session_(session) {
  if (is_sqlite(session_)) {
    session_ << "BEGIN IMMEDIATE";
  } else {
    session_.begin();
  }
}

WriteTransaction::~WriteTransaction() {
  if (!open_) return;
  try {
    session_.rollback();
  } catch (const soci::soci_error&) {
    // The connection is gone or SQLite rolled back by itself: either way nothing of it stays.
  }
}

void WriteTransaction::commit() {
  session_.commit();
  open_ = false;
}

int schema_version(soci::session& session) {
  if (!has_table(session, "glintline_schema")) return 0;
  int version = 0;
  session << "SELECT version FROM glintline_schema", soci::into(version);
  return version;
}

bool belongs_to_others(soci::session& session) {
  if (!is_sqlite(session)) return false;
  // One statement, so that tables which another program makes between two of ours are not taken for foreign ones.
  int tables = 0;
  session << "SELECT count(*) FROM sqlite_master WHERE NOT EXISTS (SELECT 1 FROM sqlite_master WHERE type = 'table' "
             "AND name = 'glintline_schema')",
      soci::into(tables);
  return tables > 0;
}

void migrate(soci::session& session, int version) {
  if (!is_sqlite(session)) session << "SELECT pg_advisory_xact_lock(:key)", soci::use(kMigrationLock);
  const int found = schema_version(session);
  if (found < 1 && version >= 1) make_first_tables(session);
  if (found < 2 && version >= 2) make_value_tables(session);
  if (found < version) session << "UPDATE glintline_schema SET version = :version", soci::use(version);
}

void put_inspection_rows(soci::session& session, const RecordedInspection& recorded, int version) {
  for (std::size_t i = 0; i < recorded.inspection.photos.size(); ++i) {
    const Inspection& photo = recorded.inspection.photos[i];
    const int place = static_cast<int>(i);
    const std::string status = photo.refusal ? name_of(photo.refusal->fault) : "measured";
    session << "INSERT INTO glintline_photographs (inspection, place, sha256, status) VALUES (:id, :place, :sha, "
               ":status)",
        soci::use(recorded.id), soci::use(place), soci::use(photo.photo_sha256), soci::use(status);
  }
  if (version >= 2) put_cutters(session, recorded);
}

}  // namespace glintline
