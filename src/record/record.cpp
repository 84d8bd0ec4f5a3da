#include "record/record.h"

#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <tuple>

#include "record/chain_fields.h"
#include "record/record_json.h"
#include "record/schema.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kServer = "postgresql:";
/// How long a writer waits for the others, s. An inspection is written in well under one.
constexpr int kPatience_s = 30;

bool on_server(const std::string& where) { return where.starts_with(kServer); }

/// libpq takes its URI as it is, and bare words without our prefix.
std::string server_words(const std::string& where) {
  return where.starts_with("postgresql://") ? where : where.substr(kServer.size());
}

Error told(Fault fault, const soci::soci_error& error, const std::string& where) {
  std::string what = error.get_error_message();
  what = what.substr(0, what.find_last_not_of("\n ") + 1);
  std::replace(what.begin(), what.end(), '\n', ' ');
  if (what.find("locked") != std::string::npos) what = "another program keeps writing to it: try again";
  if (what.find("not a database") != std::string::npos) what = "is no glintline record";
  return {fault, what, where};
}

std::unique_ptr<soci::session> connected(const std::string& where) {
  if (on_server(where)) return std::make_unique<soci::session>(soci::postgresql, server_words(where));
  const std::string words = "dbname=\"" + where + "\" timeout=" + std::to_string(kPatience_s);
  return std::make_unique<soci::session>(soci::sqlite3, words);
}

/// What must hold before SQLite is let near the file: it would make one where there is none.
Result<Done> file_fits(const std::string& where, RecordOpening opening) {
  std::error_code ignored;
  if (where.find('"') != std::string::npos || where.empty()) {
    return Error{Fault::kBadOption, "a record's name is not empty and holds no quotation mark", where};
  }
  if (fs::is_directory(where, ignored)) return Error{Fault::kFileMissing, "is a folder: name a file in it", where};
  if (opening == RecordOpening::kExisting && !fs::exists(where, ignored)) {
    return Error{Fault::kFileMissing, "there is no such record", where};
  }
  return Done{};
}

Error newer_schema(int found, const std::string& where) {
  return {Fault::kFileMissing,
          "a newer glintline wrote this record (schema " + std::to_string(found) + "; this one knows up to " +
              std::to_string(kRecordSchema) + "): update glintline; nothing was changed",
          where};
}

Result<Done> brought_up(soci::session& session, const std::string& where, RecordOpening opening, int version) {
  const int found = schema_version(session);
  if (found > version) return newer_schema(found, where);
  if (found == version) return Done{};
  if (belongs_to_others(session) || (found == 0 && opening == RecordOpening::kExisting)) {
    return Error{Fault::kFileMissing, "is no glintline record", where};
  }
  WriteTransaction transaction(session);
  migrate(session, version);
  transaction.commit();
  // Another program, newer than this one, may have come first.
  const int now = schema_version(session);
  return now > version ? Result<Done>(newer_schema(now, where)) : Result<Done>(Done{});
}

/// What becomes a column must be text that both databases hold alike.
Result<Done> plain(const std::string& name, const std::string& text, bool may_be_empty) {
  const bool controls = std::any_of(text.begin(), text.end(), [](unsigned char c) { return c < 0x20 || c == 0x7F; });
  if (controls || !is_utf8(text) || (text.empty() && !may_be_empty)) {
    return Error{Fault::kBadOption, name + " is empty or holds characters that are no text", ""};
  }
  return Done{};
}

Result<Done> fit_for_columns(const std::string& id, const std::string& chain, const std::string& at,
                             const std::string& stage) {
  for (const auto& [name, text] : {std::pair{"the id", &id}, {"the chain's name", &chain}, {"the time", &at}}) {
    const Result<Done> fits = plain(name, *text, false);
    if (!fits.ok()) return fits;
  }
  return plain("the stage", stage, true);
}

std::string kind_of(const ChainEvent& event) {
  constexpr std::array<const char*, 4> kKinds{"job", "filing", "purchase", "timed_cut"};
  return kKinds.at(event.what.index());
}

void put_inspection(soci::session& session, const RecordedInspection& recorded, const std::string& document,
                    int version) {
  const std::string action = name_of(recorded.inspection.verdict.action);
  session << "INSERT INTO glintline_inspections (id, chain, at, stage, program_version, action, document) VALUES (:id, "
             ":chain, :at, :stage, :program, :action, :document)",
      soci::use(recorded.id), soci::use(recorded.chain), soci::use(recorded.at), soci::use(recorded.stage),
      soci::use(recorded.program_version), soci::use(action), soci::use(document);
  put_inspection_rows(session, recorded, version);
}

void put_event(soci::session& session, const ChainEvent& event, const std::string& document) {
  const std::string kind = kind_of(event);
  session << "INSERT INTO glintline_events (id, chain, at, kind, document) VALUES (:id, :chain, :at, :kind, :document)",
      soci::use(event.id), soci::use(event.chain), soci::use(event.at), soci::use(kind), soci::use(document);
}

/// The document of that id; empty where there is none.
std::string document_under(soci::session& session, const std::string& table, const std::string& id) {
  std::string document;
  session << "SELECT document FROM " << table << " WHERE id = :id", soci::use(id), soci::into(document);
  return document;
}

const char* table_of(const RecordedInspection&) { return "glintline_inspections"; }
const char* table_of(const ChainEvent&) { return "glintline_events"; }
void put_entry(soci::session& session, const RecordedInspection& recorded, const std::string& document, int version) {
  put_inspection(session, recorded, document, version);
}
void put_entry(soci::session& session, const ChainEvent& event, const std::string& document, int) {
  put_event(session, event, document);
}
std::string stage_of(const RecordedInspection& recorded) { return recorded.stage; }
std::string stage_of(const ChainEvent&) { return ""; }

/// Adds the entry unless it is there already; true if it was added. Throws soci_error.
template <typename Entry>
Result<bool> added(soci::session& session, const Entry& entry, const std::string& where, int version) {
  const Result<Done> fits = fit_for_columns(entry.id, entry.chain, entry.at, stage_of(entry));
  if (!fits.ok()) return fits.error();
  const std::string document = to_json(entry);
  WriteTransaction transaction(session);
  const int found = schema_version(session);
  if (found != version) return newer_schema(found, where);
  const std::string there = document_under(session, table_of(entry), entry.id);
  if (there == document) return false;
  if (!there.empty()) {
    return Error{Fault::kBadOption, "the record holds something else under the id " + entry.id, where};
  }
  put_entry(session, entry, document, version);
  transaction.commit();
  return true;
}

template <typename Entry>
Result<Done> added_new(soci::session& session, const Entry& entry, const std::string& where, int version) {
  try {
    const Result<bool> result = added(session, entry, where, version);
    return result.ok() ? Result<Done>(Done{}) : Result<Done>(result.error());
  } catch (const soci::soci_error& error) {
    return told(Fault::kCannotWrite, error, where);
  }
}

/// Names of documents in order of time, then kind, then id: the same on every database, whatever its collation.
using DocumentKey = std::tuple<std::string, std::string, std::string>;  // at, table, id

void collect_keys(soci::session& session, const std::string& table, const std::string& chain,
                  std::vector<DocumentKey>& keys) {
  std::string id;
  std::string at;
  soci::statement statement =
      (session.prepare << "SELECT id, at FROM " << table << " WHERE :chain = '' OR chain = :chain2", soci::use(chain),
       soci::use(chain), soci::into(id), soci::into(at));
  statement.execute();
  while (statement.fetch()) keys.emplace_back(at, table, id);
}

template <typename Entry>
Result<std::vector<Entry>> entries(soci::session& session, const std::string& chain, const std::string& where,
                                   Result<Entry> (*from_json)(std::string_view)) {
  try {
    std::vector<DocumentKey> keys;
    const std::string table = table_of(Entry{});
    collect_keys(session, table, chain, keys);
    std::sort(keys.begin(), keys.end());
    std::vector<Entry> all;
    for (const auto& [at, from, id] : keys) {
      Result<Entry> entry = from_json(document_under(session, from, id));
      if (!entry.ok()) return Error{Fault::kFileMissing, id + ": " + entry.error().what, where};
      all.push_back(std::move(entry).value());
    }
    return all;
  } catch (const soci::soci_error& error) {
    return told(Fault::kFileMissing, error, where);
  }
}

}  // namespace

Record::Record(std::string where, std::unique_ptr<soci::session> session, int version)
    : where_(std::move(where)), session_(std::move(session)), version_(version) {}
Record::Record(Record&&) noexcept = default;
Record& Record::operator=(Record&&) noexcept = default;
Record::~Record() = default;

Result<Record> Record::open(const std::string& where, RecordOpening opening) {
  return open_at_version(where, opening, kRecordSchema);
}

Result<Record> Record::open_at_version(const std::string& where, RecordOpening opening, int version) {
  // A server's words may hold a password: they are never shown.
  const std::string shown = on_server(where) ? "the PostgreSQL record" : where;
  if (!on_server(where)) {
    const Result<Done> fits = file_fits(where, opening);
    if (!fits.ok()) return fits.error();
  }
  try {
    std::unique_ptr<soci::session> session = connected(where);
    const Result<Done> ready = brought_up(*session, shown, opening, version);
    if (!ready.ok()) return ready.error();
    return Record(shown, std::move(session), version);
  } catch (const soci::soci_error& error) {
    return told(Fault::kFileMissing, error, shown);
  }
}

Result<Done> Record::add(const RecordedInspection& recorded) {
  return added_new(*session_, recorded, where_, version_);
}

Result<Done> Record::add(const ChainEvent& event) { return added_new(*session_, event, where_, version_); }

Result<ImportCount> Record::add_line(std::string_view json_line) {
  const Result<RecordEntry> entry = entry_from_json(json_line);
  if (!entry.ok()) return entry.error();
  try {
    const Result<bool> result =
        std::visit([&](const auto& known) { return added(*session_, known, where_, version_); }, *entry);
    if (!result.ok()) return result.error();
    return *result ? ImportCount{1, 0} : ImportCount{0, 1};
  } catch (const soci::soci_error& error) {
    return told(Fault::kCannotWrite, error, where_);
  }
}

Result<std::vector<RecordedInspection>> Record::inspections(const std::string& chain) const {
  return entries<RecordedInspection>(*session_, chain, where_, recorded_inspection_from_json);
}

Result<std::vector<ChainEvent>> Record::events(const std::string& chain) const {
  return entries<ChainEvent>(*session_, chain, where_, event_from_json);
}

Result<std::vector<std::string>> Record::chains() const {
  try {
    std::set<std::string> names;
    for (const std::string table : {"glintline_inspections", "glintline_events"}) {
      const soci::rowset<std::string> rows = (session_->prepare << "SELECT DISTINCT chain FROM " << table);
      names.insert(rows.begin(), rows.end());
    }
    return std::vector<std::string>(names.begin(), names.end());
  } catch (const soci::soci_error& error) {
    return told(Fault::kFileMissing, error, where_);
  }
}

Result<Done> Record::each_line(const std::function<Result<Done>(std::string_view)>& line) const {
  try {
    std::vector<DocumentKey> keys;
    collect_keys(*session_, "glintline_inspections", "", keys);
    collect_keys(*session_, "glintline_events", "", keys);
    std::sort(keys.begin(), keys.end(), [](const DocumentKey& a, const DocumentKey& b) {
      // Tables the other way round: inspections come before events of the same time.
      return std::tie(std::get<0>(a), std::get<1>(b), std::get<2>(a)) <
             std::tie(std::get<0>(b), std::get<1>(a), std::get<2>(b));
    });
    for (const auto& [at, table, id] : keys) {
      const Result<Done> taken = line(document_under(*session_, table, id));
      if (!taken.ok()) return taken;
    }
    return Done{};
  } catch (const soci::soci_error& error) {
    return told(Fault::kFileMissing, error, where_);
  }
}

}  // namespace glintline
