#include "cli/card_command.h"

#include <spdlog/spdlog.h>

#include <charconv>
#include <filesystem>
#include <utility>

#include "base/text.h"
#include "card/draw.h"
#include "cli/terminal.h"
#include "report/text_layout.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

Error bad(const std::string& what) { return {Fault::kBadOption, what, ""}; }

std::optional<int> whole_number(const std::string& text) {
  int value = 0;
  const auto end = std::from_chars(text.data(), text.data() + text.size(), value);
  if (end.ec != std::errc{} || end.ptr != text.data() + text.size()) return std::nullopt;
  return value;
}

/// "7" or "1-36"
Result<std::pair<int, int>> tag_range(const std::string& text) {
  const std::size_t dash = text.find('-');
  const std::optional<int> first = whole_number(text.substr(0, dash));
  const std::optional<int> last = dash == std::string::npos ? first : whole_number(text.substr(dash + 1));
  if (!first || !last || *first > *last) {
    return bad("--tags " + text + ": give the cutters' numbers as 7 or as 1-36");
  }
  return std::pair(*first, *last);
}

Result<SheetFile> sheet_file(const CardCommandOptions& options, const std::string& name) {
  SheetFile file;
  file.path = options.output.empty() ? fs::path(name + ".pdf") : fs::path(options.output);
  file.paper = options.paper == "letter" ? Paper::kLetter : Paper::kA4;
  file.dpi = options.dpi;
  const std::string extension = file.path.extension().string();
  if (extension != ".pdf" && extension != ".png") {
    return bad("--output " + options.output + ": name a .pdf or a .png file");
  }
  file.format = extension == ".png" ? SheetFormat::kPng : SheetFormat::kPdf;
  return file;
}

/// Draws what was asked for; gives back where it went.
Result<fs::path> drawn(const CardCommandOptions& options) {
  const CardKind kind = options.kind == "close" ? CardKind::kClose : CardKind::kWide;
  const Result<CardLayout> card =
      options.square_mm ? CardLayout::sized(kind, *options.square_mm) : Result<CardLayout>(CardLayout(kind));
  if (!card.ok()) return card.error();
  if (options.block && !options.tags.empty()) return bad("--block and --tags are two sheets: ask for one at a time");

  const std::string what = options.block ? "block" : options.tags.empty() ? "card" : "tags";
  const Result<SheetFile> file = sheet_file(options, what + "-" + options.kind);
  if (!file.ok()) return file.error();
  const auto placed = [&](const auto& result) {
    return result.ok() ? Result<fs::path>(file->path) : Result<fs::path>(result.error());
  };
  if (options.block) {
    PlanBlock block;
    if (options.chain_height_mm) block.chain_height_mm = *options.chain_height_mm;
    if (options.slot_mm) block.slot_mm = *options.slot_mm;
    return placed(draw_plan_block(*card, block, *file));
  }
  if (!options.tags.empty()) {
    const Result<std::pair<int, int>> range = tag_range(options.tags);
    if (!range.ok()) return range.error();
    return placed(draw_number_tags(*card, range->first, range->second, *file));
  }
  CardOptions look;
  look.field = options.cut_out ? FieldPrint::kCutOut : FieldPrint::kBlue;
  if (options.slot_mm) look.slot_mm = *options.slot_mm;
  return placed(draw_card(*card, look, *file));
}

std::string advice(const CardCommandOptions& options) {
  if (options.block) return "Saw the block and its rails from the measures on the sheet.\n";
  return "Print it at 100 %, without fitting it to the page. Measure the check bars and give them to look:\n"
         "  glintline look --printed " +
         fixed(kCheckBarMm - 0.2, 1) + "x" + fixed(kCheckBarMm + 0.1, 1) + " PHOTO...\n";
}

}  // namespace

ExitCode draw_sheet(const CardCommandOptions& options) {
  const Result<fs::path> path = drawn(options);
  if (!path.ok()) {
    const Error& error = path.error();
    spdlog::error("{}", printable(error.where.empty() ? error.what : error.where + ": " + error.what));
    return error.fault == Fault::kCannotWrite ? ExitCode::kCannotWrite : ExitCode::kUsage;
  }
  const Result<Done> told = print("Drawn: " + printable(path->string()) + "\n" + advice(options));
  return told.ok() ? ExitCode::kDone : ExitCode::kCannotWrite;
}

}  // namespace glintline
