#include "cli/record_command.h"

#include <algorithm>
#include <fstream>
#include <iostream>

#include "base/text.h"
#include "cli/complaint.h"
#include "cli/record_place.h"
#include "cli/terminal.h"
#include "report/history_words.h"
#include "report/html_report.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

constexpr const char* kStandard = "-";

struct ListedEntry {
  std::string at;
  std::string text;
};

std::string line_of(const RecordedInspection& recorded) {
  const std::string stage = recorded.stage.empty() ? "" : ", " + recorded.stage;
  const int cutters = static_cast<int>(recorded.inspection.cutters.size());
  return recorded.chain + stage + ": " + counted(cutters, "cutter") + ", " + three_words(recorded.inspection);
}

ExitCode told(const std::string& text) {
  const Result<Done> printed = print(text);
  return printed.ok() ? ExitCode::kDone : complained(printed.error());
}

/// Hands lines to the record one by one; complaints name the line.
ExitCode take_lines(std::istream& lines, const std::string& name, Record& record) {
  ExitCode code = ExitCode::kDone;
  ImportCount count;
  int number = 0;
  for (std::string line; std::getline(lines, line);) {
    ++number;
    if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
    const Result<ImportCount> taken = record.add_line(line);
    if (taken.ok()) {
      count.added += taken->added;
      count.already_there += taken->already_there;
    } else {
      const Error& error = taken.error();
      code = std::max(code, complained({error.fault, error.what, name + ", line " + std::to_string(number)}));
    }
  }
  const std::string there =
      count.already_there > 0 ? ", " + std::to_string(count.already_there) + " there already" : "";
  return std::max(code, told(counted(count.added, "line") + " added" + there + "\n"));
}

}  // namespace

ExitCode list_record(const RecordCommandOptions& options) {
  const Result<Record> record = open_record(options.record, RecordOpening::kExisting);
  if (!record.ok()) return complained(record.error());
  const Result<std::vector<RecordedInspection>> inspections = record->inspections("");
  const Result<std::vector<ChainEvent>> events = record->events("");
  if (!inspections.ok()) return complained(inspections.error());
  if (!events.ok()) return complained(events.error());
  std::vector<ListedEntry> entries;
  for (const RecordedInspection& recorded : *inspections) entries.push_back({recorded.at, line_of(recorded)});
  for (const ChainEvent& event : *events) entries.push_back({event.at, event.chain + ": " + event_words(event)});
  std::stable_sort(entries.begin(), entries.end(),
                   [](const ListedEntry& a, const ListedEntry& b) { return a.at < b.at; });
  std::string text;
  for (const ListedEntry& entry : entries) text += printable(entry.at + "  " + entry.text) + "\n";
  return told(text.empty() ? "The record is empty.\n" : text);
}

ExitCode export_record(const RecordCommandOptions& options) {
  const Result<Record> record = open_record(options.record, RecordOpening::kExisting);
  if (!record.ok()) return complained(record.error());
  const bool to_output = options.file == kStandard;
  std::string kept;
  const Result<Done> done = record->each_line([&](std::string_view line) {
    if (to_output) return print(std::string(line) + "\n");
    kept.append(line).append("\n");
    return Result<Done>(Done{});
  });
  if (!done.ok()) return complained(done.error());
  if (to_output) return ExitCode::kDone;
  const Result<Done> written = write_file(options.file, kept);
  return written.ok() ? ExitCode::kDone : complained(written.error());
}

ExitCode import_record(const RecordCommandOptions& options) {
  std::ifstream file;
  if (options.file != kStandard) {
    file.open(options.file, std::ios::binary);
    if (!file) return complained({Fault::kFileMissing, "there is no such file, or it cannot be read", options.file});
  }
  Result<Record> opened = open_record(options.record, RecordOpening::kCreateIfAbsent);
  if (!opened.ok()) return complained(opened.error());
  Record record = std::move(opened).value();
  return options.file == kStandard ? take_lines(std::cin, "standard input", record)
                                   : take_lines(file, options.file, record);
}

}  // namespace glintline
