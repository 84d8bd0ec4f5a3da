#include "cli/chain_command.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <filesystem>
#include <iostream>

#include "cli/complaint.h"
#include "cli/terminal.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

/// Asks until the answer makes sense; an empty one leaves the key open. False where the input has ended.
Result<bool> asked(const SheetQuestion& question, std::vector<SheetAnswer>& answers, SheetAnswer& answer) {
  while (true) {
    const Result<Done> told = print(question.question + " [" + question.default_text + "]: ");
    if (!told.ok()) return told.error();
    std::string line;
    if (!std::getline(std::cin, line)) return false;
    line.erase(0, line.find_first_not_of(" \t"));
    line.erase(line.find_last_not_of(" \t\r") + 1);
    answer.value = line;
    const Result<std::string> text = chain_sheet_text(answers);
    if (text.ok()) return true;
    const Result<Done> complained_of = print("  " + printable(text.error().what) + "\n");
    if (!complained_of.ok()) return complained_of.error();
    answer.value.clear();
  }
}

}  // namespace

std::vector<SheetAnswer> open_answers() {
  std::vector<SheetAnswer> answers;
  for (const SheetQuestion& question : sheet_questions()) answers.push_back({question.key, ""});
  return answers;
}

std::string option_of(const SheetQuestion& question) {
  std::string name = question.key;
  const std::string growing = "limits.growing_setting.";
  if (name.starts_with(growing)) {
    name = "growing." + name.substr(growing.size());
  } else {
    name = name.substr(name.rfind('.') + 1);
  }
  std::replace_if(
      name.begin(), name.end(), [](char c) { return c == '_' || c == '.'; }, '-');
  return "--" + name;
}

ExitCode new_chain(const NewChainOptions& options) {
  std::error_code ignored;
  if (fs::exists(options.file, ignored) && !options.overwrite) {
    return complained({Fault::kBadOption, "is there already: name another file, or add --overwrite", options.file});
  }
  std::vector<SheetAnswer> answers = options.answers;
  // What was typed as an option is checked first, so that nobody answers questions in vain.
  const Result<std::string> given = chain_sheet_text(answers);
  if (!given.ok()) return complained({given.error().fault, given.error().what, "chain new"});
  for (std::size_t i = 0; options.ask && i < answers.size(); ++i) {
    if (!answers[i].value.empty()) continue;
    const Result<bool> more = asked(sheet_questions()[i], answers, answers[i]);
    if (!more.ok()) return complained(more.error());
    if (!*more) break;
  }
  const Result<std::string> text = chain_sheet_text(answers);
  if (!text.ok()) return complained({text.error().fault, text.error().what, "chain new"});
  const Result<Done> written = write_file(options.file, *text);
  if (!written.ok()) return complained(written.error());
  const Result<Done> told =
      print(printable(options.file) + " written: read it through, the maker's figures come first\n");
  return told.ok() ? ExitCode::kDone : complained(told.error());
}

}  // namespace glintline
