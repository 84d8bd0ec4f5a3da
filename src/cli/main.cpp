#include <malloc.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <CLI/CLI.hpp>
#include <clocale>
#include <exception>

#include "cli/card_command.h"
#include "cli/chain_command.h"
#include "cli/exit_code.h"
#include "cli/inspect_command.h"
#include "cli/lens_command.h"
#include "cli/look_command.h"
#include "cli/record_arguments.h"
#include "judge/judge_chain.h"
#include "pipeline/inspect.h"
#include "report/words.h"

namespace glintline {
namespace {

constexpr const char* kSafety = "Before taking pictures: engine off and plug or battery out, chain cold, gloves on.\n";

constexpr const char* kLookExamples =
    "Examples:\n"
    "  glintline look c07.jpg c08.jpg\n"
    "  glintline look --pitch 9.32 --draw marked pictures/\n"
    "  glintline look --setup bench.toml --json - pictures/ > today.json\n";

/// Pictures of some megabytes come and go by the dozen. Memory that is given back to the system each time has to be
/// cleared by it each time it is taken again, which costs a sixth of a photograph's time (measured).
void keep_memory() {
  constexpr int kMiB = 1 << 20;
  mallopt(M_MMAP_THRESHOLD, 32 * kMiB);
  mallopt(M_TOP_PAD, 64 * kMiB);
  mallopt(M_TRIM_THRESHOLD, 256 * kMiB);
}

std::string footer(const std::string& examples) {
  return examples + "\n" + kExitCodeHelp + "\n\n" + kSafety + kAdviceLine;
}

/// What is known of the printed card.
template <class Options>
void add_print(CLI::App& command, Options& options) {
  command.add_option("--printed", options.printed, "Check bars as measured on the print, mm: 99.8x100.1");
  command.add_option("--square", options.square, "Side of the card's squares, where it was drawn in another size, mm");
}

/// An output with a place of its own: "--json", "all values as JSON".
void add_output(CLI::App& command, const char* option, std::string& place, const std::string& what) {
  command.add_option(option, place, std::string("Write ") + what + " to this file; - is standard output");
}

/// What is known before a photograph is looked at.
void add_bench(CLI::App& command, LookOptions& options) {
  command.add_option("--setup", options.setup, "Set-up file (TOML) that holds any of the following");
  command.add_option("--chain", options.chain, "The chain's sheet (TOML): pitch, thicknesses, limits");
  command.add_option("--camera", options.camera, "Camera file: a calibration of this camera");
  command.add_option(
      "--standoff", options.stand_off,
      "Height of the upper outer face (profile) or of the top plates (plan) over the card, mm: 5.5+-0.3");
  command.add_option("--pitch", options.pitch, "The chain's true pitch, mm: 9.32");
  add_print(command, options);
  command
      .add_option("--scale-from", options.scale_from,
                  "pitch: measure profile pictures without a card by the chain's known pitch; wider uncertainty")
      ->check(CLI::IsMember({"card", "pitch"}));
  command.add_option("--view", options.view, "How the pictures look at the chain; told from the picture if not given")
      ->check(CLI::IsMember({"profile", "plan"}));
}

void add_look(CLI::App& app, LookOptions& options) {
  CLI::App* look = app.add_subcommand("look", "Measure the cutters in photographs that show the card, and judge them");
  look->add_option("photo", options.photos, "JPEG or PNG files, or folders of them")->required();
  add_output(*look, "--json", options.json, "all values as JSON");
  add_output(*look, "--csv", options.csv, "one row a cutter as CSV");
  look->add_option("--draw", options.draw, "Put annotated pictures into this folder");
  add_bench(*look, options);
  look->footer(footer(kLookExamples));
}

/// What inspect and compare have in common.
void add_chain_work(CLI::App& command, ChainWorkOptions& options) {
  add_bench(command, options.look);
  command.add_option("--list", options.list, "Which photograph shows which cutter: CSV with photo,number[,view,hand]");
  command.add_option("--first", options.first, "Number of the first cutter in order, where no tag and no name tells")
      ->check(CLI::Range(1, 400));
  command
      .add_option("--found", options.found, std::string("What you saw on the chain: ") + kKnownFaults + "; crack:12")
      ->allow_extra_args(false);
  command.add_option("--strokes-from", options.strokes_from, "Counted strokes that compare --learn wrote");
  command.add_option("--keep", options.keep, "Folder for finished photographs; else the user's cache folder");
  command.add_flag("--fresh", options.fresh, "Measure every photograph anew");
}

void add_inspect(CLI::App& app, InspectOptions& options) {
  CLI::App* inspect = app.add_subcommand("inspect", "Judge a whole chain from its photographs, and plan its filing");
  inspect->add_option("photo", options.photos, "A folder with all photographs of one chain, or the files")->required();
  add_output(*inspect, "--json", options.json, "all values and the plan as JSON");
  add_output(*inspect, "--csv", options.csv, "one row a cutter as CSV");
  add_output(*inspect, "--html", options.html, "the report, for phone and printer,");
  inspect->add_flag("--enter", options.enter.enter, "Enter it into the record");
  inspect->add_option("--record", options.enter.record, "Enter it into this record: a file or postgresql://...");
  inspect->add_option("--at", options.enter.at, "When the pictures were taken: 2026-11-02, 2026-11-02T14:30");
  inspect->add_option("--stage", options.enter.stage, "What came before: new, after dirt, after filing");
  add_chain_work(*inspect, options.work);
  inspect->footer(footer(
      "Both views of every cutter, in any order. Cutters get their numbers from tags in the pictures, else from names\n"
      "like c07-plan.jpg, else from --list, else from the order of the names. Stopped work goes on where it stopped.\n"
      "Examples:\n  glintline inspect --chain ridge.toml ridge-2026-11-02/\n"
      "  glintline inspect --chain ridge.toml --found crack:12 --html today.html pictures/\n"));
}

void add_compare(CLI::App& app, CompareOptions& options) {
  CLI::App* compare = app.add_subcommand("compare", "What work did to a chain, cutter by cutter");
  compare->add_option("before", options.before, "Folder with the photographs before")->required();
  compare->add_option("after", options.after, "Folder with the photographs after")->required();
  compare->add_flag("--same-card", options.same_card, "One and the same printed sheet lay in all pictures");
  compare->add_option("--strokes", options.strokes, "File strokes: 6 on every cutter, or 1:5,2:6");
  compare->add_option("--learn", options.learn, "Add what the strokes took off to this file");
  add_output(*compare, "--json", options.json, "the comparison as JSON");
  add_output(*compare, "--html", options.html, "plan and comparison, one sheet on paper, and why,");
  add_chain_work(*compare, options.work);
  compare->footer(
      footer("Examples:\n  glintline compare --chain ridge.toml --same-card before/ after/\n"
             "  glintline compare --strokes 6 --learn strokes.csv before/ after/\n"));
}

void add_chain(CLI::App& app, NewChainOptions& options) {
  CLI::App* chain = app.add_subcommand("chain", "Write a chain's sheet");
  chain->require_subcommand(1);
  CLI::App* fresh = chain->add_subcommand("new", "Write a commented sheet, from options or by asking");
  fresh->add_option("file", options.file, "The sheet to write: ridge.toml")->required();
  options.answers = open_answers();
  for (std::size_t i = 0; i < options.answers.size(); ++i) {
    const SheetQuestion& question = sheet_questions()[i];
    fresh->add_option(option_of(question), options.answers[i].value, question.question);
  }
  fresh->add_flag("--ask", options.ask, "Ask for what is not given");
  fresh->add_flag("--overwrite", options.overwrite, "Take the place of a file that is there");
  const std::string examples =
      "Examples:\n  glintline chain new --ask ridge.toml\n"
      "  glintline chain new --pitch-mm 9.32 --drive-links 72 --first-cutter left ridge.toml\n";
  chain->footer(footer(examples));
  fresh->footer(footer(examples));
}

void add_card(CLI::App& app, CardCommandOptions& options) {
  CLI::App* card = app.add_subcommand("card", "Draw the card to print, its number tags, or the block for plan views");
  card->add_option("kind", options.kind, "wide (phone) or close (macro)")
      ->capture_default_str()
      ->check(CLI::IsMember({"wide", "close"}));
  card->add_option("--square", options.square_mm, "Side of a square, mm; 5 for wide, 2 for close");
  card->add_option("--tags", options.tags, "Number tags for these cutters instead: 7 or 1-36");
  card->add_flag("--block", options.block, "The block and rails that hold chain and card, instead");
  card->add_flag("--cut-out", options.cut_out, "The field as an opening: put strongly coloured paper behind it");
  card->add_option("--slot", options.slot_mm, "Width of the slot that the chain passes through, mm");
  card->add_option("--chain-height", options.chain_height_mm,
                   "Block: from where the links stand to the top plates, mm");
  card->add_option("--paper", options.paper, "a4 or letter")
      ->capture_default_str()
      ->check(CLI::IsMember({"a4", "letter"}));
  card->add_option("--dpi", options.dpi, "Resolution of a PNG")->capture_default_str();
  card->add_option("--output", options.output, "A .pdf or .png file; else a PDF in this folder");
  card->footer(
      footer("Examples:\n  glintline card wide\n  glintline card close --paper letter --output card.png\n"
             "  glintline card --tags 1-36\n"));
}

void add_lens(CLI::App& app, LensOptions& options) {
  CLI::App* lens = app.add_subcommand("lens", "Learn a camera from 6 or more photographs of the card");
  lens->add_option("photo", options.photos, "JPEG or PNG files, or folders of them")->required();
  lens->add_option("--output", options.output, "Camera file to write; else one named after the camera, in calib/");
  add_print(*lens, options);
  lens->footer(footer(
      "Lay the card flat and alone, as far away as the cutters will be, and photograph it 8 to 15 times without\n"
      "zooming: straight from above, then tilted by 20 to 30 degrees towards each side, the picture's corners filled.\n"
      "Examples:\n  glintline lens card-pictures/\n  glintline lens --output macro.yml a*.jpg\n"));
}

/// CLI11's complaint in one line with what to do.
ExitCode usage_error(const CLI::App& app, const CLI::ParseError& error) {
  const auto chosen = app.get_subcommands();
  const std::string command = chosen.empty() ? "glintline" : "glintline " + chosen.front()->get_name();
  spdlog::error("{}; see {} --help", error.what(), command);
  return ExitCode::kUsage;
}

struct AllOptions {
  LookOptions look;
  CardCommandOptions card;
  LensOptions lens;
  RecordArguments record;
  InspectOptions inspect;
  CompareOptions compare;
  NewChainOptions chain;
  bool verbose = false;
};

void add_all(CLI::App& app, AllOptions& options) {
  app.set_version_flag("--version", std::string("glintline ") + program_version());
  app.add_flag("-v,--verbose", options.verbose, "Show every reason, and tell on standard error what is going on");
  app.require_subcommand(1);
  app.fallthrough();
  app.footer(footer(
      "More:\n  glintline inspect --help\n  glintline compare --help\n  glintline chain --help\n  glintline look "
      "--help\n"
      "  glintline card --help\n  glintline lens --help\n"
      "  glintline report --help\n  glintline history --help\n  glintline event --help\n  glintline record --help\n"));
  add_look(app, options.look);
  add_card(app, options.card);
  add_lens(app, options.lens);
  add_inspect(app, options.inspect);
  add_compare(app, options.compare);
  add_chain(app, options.chain);
  add_record_commands(app, options.record, footer(""));
}

ExitCode run_chosen(const CLI::App& app, AllOptions& options) {
  if (options.verbose) spdlog::set_level(spdlog::level::info);
  options.look.verbose = options.inspect.work.look.verbose = options.compare.work.look.verbose = options.verbose;
  if (const std::optional<ExitCode> code = run_record_command(app, options.record)) return *code;
  if (app.got_subcommand("inspect")) return inspect(options.inspect);
  if (app.got_subcommand("compare")) return compare(options.compare);
  if (app.got_subcommand("chain")) return new_chain(options.chain);
  if (app.got_subcommand("lens")) return learn_camera(options.lens);
  return app.got_subcommand("look") ? look(options.look) : draw_sheet(options.card);
}

ExitCode run(int count, char** words) {
  CLI::App app("Measures saw-chain cutters in close-up photographs, and says which to leave, file or retire.",
               "glintline");
  AllOptions options;
  add_all(app, options);
  try {
    app.parse(count, words);
  } catch (const CLI::Success& help_or_version) {
    app.exit(help_or_version);
    return ExitCode::kDone;
  } catch (const CLI::ParseError& error) {
    return usage_error(app, error);
  }
  return run_chosen(app, options);
}

}  // namespace
}  // namespace glintline

int main(int count, char** words) {
  glintline::keep_memory();
  // Characters only: numbers keep their decimal point whatever the user's language.
  std::setlocale(LC_CTYPE, "");
  spdlog::set_default_logger(spdlog::stderr_logger_mt("glintline"));
  spdlog::set_pattern("%n: %v");
  spdlog::set_level(spdlog::level::warn);
  try {
    return static_cast<int>(glintline::run(count, words));
  } catch (const std::exception& failure) {
    spdlog::error("stopped by something unforeseen ({}): please report it with the command", failure.what());
    return static_cast<int>(glintline::ExitCode::kUnforeseen);
  }
}
