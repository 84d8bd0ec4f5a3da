#include "cli/output.h"

#include <spdlog/spdlog.h>

#include <algorithm>
#include <filesystem>

#include "cli/terminal.h"
#include "report/text_layout.h"
#include "report/written_file.h"

namespace glintline {

namespace fs = std::filesystem;

void complain(const Error& error) {
  spdlog::error("{}", printable(error.where.empty() ? error.what : error.where + ": " + error.what));
}

ExitCode worse(ExitCode a, ExitCode b) { return std::max(a, b); }

Result<Done> has_folder(const std::string& file) {
  if (file.empty() || file == kStandardOutput) return Done{};
  const fs::path folder = fs::path(file).has_parent_path() ? fs::path(file).parent_path() : fs::path(".");
  std::error_code ignored;
  if (fs::is_directory(file, ignored)) return Error{Fault::kCannotWrite, "is a folder: name a file in it", file};
  if (fs::is_directory(folder, ignored)) return Done{};
  return Error{Fault::kCannotWrite, "cannot be written: there is no folder " + folder.string(), file};
}

ExitCode put(const std::string& where, const std::string& text) {
  if (where.empty()) return ExitCode::kDone;
  const Result<Done> written = where == kStandardOutput ? print(text) : write_file(where, text);
  if (written.ok()) return ExitCode::kDone;
  complain(written.error());
  return ExitCode::kCannotWrite;
}

ExitCode code_of(const std::vector<Inspection>& inspections) {
  const auto refused = std::count_if(inspections.begin(), inspections.end(),
                                     [](const Inspection& inspection) { return inspection.refusal.has_value(); });
  if (refused == 0) return ExitCode::kDone;
  return refused == static_cast<std::ptrdiff_t>(inspections.size()) ? ExitCode::kAllRefused : ExitCode::kSomeRefused;
}

}  // namespace glintline
