#include "cli/record_arguments.h"

namespace glintline {
namespace {

constexpr const char* kRecordHelp =
    "The record: a file, or postgresql://user@host/database; else $GLINTLINE_RECORD, else your own file";

void add_record_option(CLI::App* command, std::string& record) { command->add_option("--record", record, kRecordHelp); }

void add_event_basics(CLI::App* command, EventOptions& options) {
  command->add_option("chain", options.chain, "The chain's name, as its sheet says it")->required();
  command->add_option("--at", options.at, "When: 2026-11-02 or 2026-11-02T14:30; now if not given");
  command->add_option("--note", options.note, "Anything worth keeping");
  add_record_option(command, options.record);
}

void add_event(CLI::App& app, EventOptions& options, const std::string& footer) {
  CLI::App* event = app.add_subcommand("event", "Record what happened to a chain: job, filing, bought, cut");
  event->require_subcommand(1);
  event->footer(
      "Examples:\n  glintline event bought \"Bench loop 1\" --price 24.90 --currency EUR\n"
      "  glintline event job \"Bench loop 1\" --hours 1.5 --tanks 2 --wood spruce --dirt\n"
      "  glintline event filing \"Bench loop 1\" --who Kim --strokes 4 --strokes-on 7:9\n"
      "  glintline event cut \"Bench loop 1\" --seconds 17.6 --section 491+-10 --wood spruce\n" +
      footer);
  CLI::App* job = event->add_subcommand("job", "Work the chain did");
  add_event_basics(job, options);
  job->add_option("--hours", options.hours, "Hours of running");
  job->add_option("--tanks", options.tanks, "Tanks of fuel, or battery charges");
  job->add_option("--area", options.area_m2, "Kerf cut, m²");
  job->add_option("--wood", options.wood, "What was cut");
  job->add_flag("--dirt", options.dirt, "It touched soil, sand, a stone or dirty bark");
  job->add_flag("--metal", options.metal, "It touched metal");
  CLI::App* filing = event->add_subcommand("filing", "A sharpening");
  add_event_basics(filing, options);
  filing->add_option("--who", options.who, "Who filed");
  filing->add_option("--strokes", options.strokes, "Strokes on every cutter");
  filing->add_option("--strokes-on", options.strokes_on, "Other strokes on single cutters: 7:9");
  filing->add_option("--cost", options.cost, "What it cost");
  CLI::App* bought = event->add_subcommand("bought", "The chain's purchase");
  add_event_basics(bought, options);
  bought->add_option("--price", options.price, "What it cost")->required();
  bought->add_option("--currency", options.currency, "EUR, NZD, ...");
  CLI::App* cut = event->add_subcommand("cut", "A cut against the clock");
  add_event_basics(cut, options);
  cut->add_option("--seconds", options.seconds, "How long it took")->required();
  cut->add_option("--section", options.section, "The sawn face, cm²: 491 or 491+-10")->required();
  cut->add_option("--wood", options.wood, "What was cut");
}

void add_record(CLI::App& app, RecordCommandOptions& options, const std::string& footer) {
  CLI::App* record = app.add_subcommand("record", "Look into the record, carry it to another place");
  record->require_subcommand(1);
  record->footer(
      "Examples:\n  glintline record list\n  glintline record export bench.jsonl\n"
      "  glintline record import bench.jsonl --record postgresql://bench@shop/glintline\n" +
      footer);
  CLI::App* list = record->add_subcommand("list", "A line an entry");
  add_record_option(list, options.record);
  CLI::App* out = record->add_subcommand("export", "Every entry as a line of JSON, to a file or - for standard output");
  out->add_option("file", options.file, "The file")->required();
  add_record_option(out, options.record);
  CLI::App* in = record->add_subcommand("import", "Add the entries of an export that are not there yet");
  in->add_option("file", options.file, "The file, or - for standard input")->required();
  add_record_option(in, options.record);
}

void add_history(CLI::App& app, HistoryOptions& options, const std::string& footer) {
  CLI::App* history = app.add_subcommand("history", "Chains' lives: wear, filings, cost; chain against chain");
  history->add_option("chain", options.chains, "The chains' names; all if none is given");
  add_record_option(history, options.record);
  history->footer("Examples:\n  glintline history\n  glintline history \"Bench loop 1\" \"Bench loop 2\"\n" + footer);
}

void add_report(CLI::App& app, ReportOptions& options, const std::string& footer) {
  CLI::App* report = app.add_subcommand("report", "Write a recorded inspection as one HTML page, for phone and paper");
  report->add_option("chain", options.chain, "The chain's name; not needed where the record holds one chain");
  report->add_option("--at", options.at, "Of that day: 2026-11-02; the latest if not given");
  report->add_option("--stage", options.stage, "Of that stage: \"after dirt\"");
  report->add_option("--output", options.output,
                     "The page; named after chain and day if not given; - is standard output");
  report->add_option("--since", options.since, "Show what changed since this stage or day: \"after dirt\", 2026-10-01");
  report->add_flag("--same-card", options.same_card, "One and the same printed sheet lay in the pictures of both days");
  report->add_flag("--no-pictures", options.no_pictures, "Leave the close-ups out");
  add_record_option(report, options.record);
  report->footer(
      "Examples:\n  glintline report\n  glintline report \"Bench loop 1\" --stage \"after dirt\" --output "
      "today.html\n" +
      footer);
}

ExitCode run_event(const CLI::App& event, const EventOptions& options) {
  if (event.got_subcommand("job")) return note_event(EventKind::kJob, options);
  if (event.got_subcommand("filing")) return note_event(EventKind::kFiling, options);
  return note_event(event.got_subcommand("bought") ? EventKind::kBought : EventKind::kCut, options);
}

ExitCode run_record(const CLI::App& record, const RecordCommandOptions& options) {
  if (record.got_subcommand("list")) return list_record(options);
  return record.got_subcommand("export") ? export_record(options) : import_record(options);
}

}  // namespace

void add_record_commands(CLI::App& app, RecordArguments& arguments, const std::string& footer) {
  add_record(app, arguments.record, footer);
  add_event(app, arguments.event, footer);
  add_history(app, arguments.history, footer);
  add_report(app, arguments.report, footer);
}

std::optional<ExitCode> run_record_command(const CLI::App& app, const RecordArguments& arguments) {
  if (app.got_subcommand("event")) return run_event(*app.get_subcommand("event"), arguments.event);
  if (app.got_subcommand("record")) return run_record(*app.get_subcommand("record"), arguments.record);
  if (app.got_subcommand("history")) return show_history(arguments.history);
  if (app.got_subcommand("report")) return write_report(arguments.report);
  return std::nullopt;
}

}  // namespace glintline
