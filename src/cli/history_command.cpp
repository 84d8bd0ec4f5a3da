#include "cli/history_command.h"

#include "cli/complaint.h"
#include "cli/record_place.h"
#include "cli/terminal.h"
#include "judge/chain_life.h"
#include "report/history_words.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

Result<ChainRecord> chain_record(const Record& record, const std::string& chain) {
  const Result<std::vector<RecordedInspection>> inspections = record.inspections(chain);
  if (!inspections.ok()) return inspections.error();
  const Result<std::vector<ChainEvent>> events = record.events(chain);
  if (!events.ok()) return events.error();
  return ChainRecord{chain, *inspections, *events};
}

Result<std::vector<ChainRecord>> chain_records(const HistoryOptions& options) {
  const Result<Record> record = open_record(options.record, RecordOpening::kExisting);
  if (!record.ok()) return record.error();
  const Result<std::vector<std::string>> all = record->chains();
  if (!all.ok()) return all.error();
  std::vector<ChainRecord> records;
  for (const std::string& said : options.chains.empty() ? *all : options.chains) {
    const Result<std::string> chain = chain_meant(*record, said);
    if (!chain.ok()) return chain.error();
    const Result<ChainRecord> one = chain_record(*record, *chain);
    if (!one.ok()) return one.error();
    records.push_back(*one);
  }
  return records;
}

/// Lines with the signs that the terminal can show.
std::string shown(const std::string& text, bool unicode) {
  std::string lines;
  std::size_t from = 0;
  while (from < text.size()) {
    const std::size_t to = text.find('\n', from);
    const std::string line = printable(with_sign(text.substr(from, to - from)));
    lines += (unicode ? line : ascii(line)) + "\n";
    from = to == std::string::npos ? text.size() : to + 1;
  }
  return lines;
}

}  // namespace

ExitCode show_history(const HistoryOptions& options) {
  const Result<std::vector<ChainRecord>> records = chain_records(options);
  if (!records.ok()) return complained(records.error());
  std::string text;
  for (const ChainRecord& record : *records) text += history_text(life_of(record)) + "\n";
  const std::vector<StageDifference> differences = stage_differences(*records);
  if (!differences.empty()) text += "Chain against chain, the same stage (+- is the u95, k = 2)\n";
  text += differences_text(differences);
  if (text.empty()) text = "The record is empty.\n";
  const Result<Done> told = print(shown(text, terminal_style().unicode));
  return told.ok() ? ExitCode::kDone : complained(told.error());
}

}  // namespace glintline
