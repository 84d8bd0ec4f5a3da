#pragma once

#include <CLI/CLI.hpp>
#include <optional>
#include <string>

#include "cli/event_command.h"
#include "cli/exit_code.h"
#include "cli/history_command.h"
#include "cli/record_command.h"
#include "cli/report_command.h"

namespace glintline {

/// What the user typed behind the commands that work on the record.
struct RecordArguments {
  EventOptions event;
  RecordCommandOptions record;
  HistoryOptions history;
  ReportOptions report;
};

/// Adds `record`, `event`, `history` and `report`; `footer` stands under each one's help, behind its examples.
void add_record_commands(CLI::App& app, RecordArguments& arguments, const std::string& footer);

/// Runs the one that was asked for; nothing where it was another command.
[[nodiscard]] std::optional<ExitCode> run_record_command(const CLI::App& app, const RecordArguments& arguments);

}  // namespace glintline
