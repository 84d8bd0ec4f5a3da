#include "cli/inspect_command.h"

#include <spdlog/spdlog.h>

#include <set>

#include "base/text.h"
#include "cli/complaint.h"
#include "cli/output.h"
#include "cli/photo_list.h"
#include "cli/record_place.h"
#include "cli/report_command.h"
#include "cli/terminal.h"
#include "judge/compare_chains.h"
#include "read/option_text.h"
#include "report/chain_text.h"
#include "report/html_report.h"
#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

/// Two results in one place would destroy one of them.
Result<Done> check_outputs(const std::vector<std::pair<const char*, std::string>>& outputs) {
  std::set<std::string> places;
  for (const auto& [option, file] : outputs) {
    if (file.empty()) continue;
    if (!places.insert(file).second) {
      return Error{Fault::kBadOption, "is named for two outputs: give each its own place",
                   std::string(option) + " " + file};
    }
    const Result<Done> possible = has_folder(file);
    if (!possible.ok()) return possible;
  }
  return Done{};
}

ReportContent report_of(const ChainInspection& chain) {
  std::vector<std::string> left_out;
  ReportContent content;
  content.recorded.chain = chain.sheet.name;
  content.recorded.at = local_time_now();
  content.recorded.program_version = program_version();
  content.recorded.inspection = chain;
  content.pictures = report_pictures(chain, left_out);
  for (const std::string& line : left_out) spdlog::warn("{}", line);
  return content;
}

TableStyle style_of(const ChainWorkOptions& work) {
  TableStyle style = terminal_style();
  style.all_reasons = work.look.verbose;
  return style;
}

/// The folder's name, for a chain without a sheet.
std::string name_from(const std::string& place) {
  const fs::path path = fs::path(place).lexically_normal();
  const std::string name = (path.has_filename() ? path : path.parent_path()).filename().string();
  return name.empty() || name == "." || name == ".." ? "chain" : name;
}

ExitCode enter(const ChainInspection& chain, const EnterOptions& options) {
  if (!options.wanted()) return ExitCode::kDone;
  const Result<RecordedInspection> recorded = recorded_as(chain, options);
  if (!recorded.ok()) return complained(recorded.error());
  const Result<Done> entered = enter_inspection(*recorded, options);
  return entered.ok() ? ExitCode::kDone : complained(entered.error());
}

}  // namespace

ExitCode inspect(const InspectOptions& options) {
  Result<ChainOrder> order = chain_order_of(options.work);
  if (!order.ok()) return complained(order.error());
  const Result<std::vector<fs::path>> photos = photo_list(options.photos);
  if (!photos.ok()) return complained(photos.error());
  const Result<Done> outputs =
      check_outputs({{"--json", options.json}, {"--csv", options.csv}, {"--html", options.html}});
  if (!outputs.ok()) return complained(outputs.error());
  ChainOrder named = std::move(order).value();
  if (named.sheet.name.empty()) named.sheet.name = name_from(options.photos.front());

  const Result<RecordedInspection> enterable = recorded_as({}, options.enter);
  if (!enterable.ok()) return complained(enterable.error());

  const ChainInspection chain = inspected(*photos, named);
  ExitCode code = worse(code_of(chain.photos), enter(chain, options.enter));
  if (!options.json.empty()) code = worse(code, put(options.json, chain_json(chain)));
  if (!options.csv.empty()) code = worse(code, put(options.csv, chain_csv(chain)));
  if (!options.html.empty()) code = worse(code, put(options.html, html_report(report_of(chain))));
  for (const std::string& output : {options.json, options.csv, options.html}) {
    if (output == kStandardOutput) return code;
  }
  return worse(code, put(kStandardOutput, chain_text(chain, style_of(options.work))));
}

namespace {

/// "6", or "1:5,2:6"
Result<std::map<int, double>> strokes_of(const std::string& text, const ChainInspection& chain) {
  std::map<int, double> strokes;
  const Error bad{Fault::kBadOption, "must be a count for every cutter as 6, or cutter by cutter as 1:5,2:6",
                  "--strokes " + text};
  constexpr double kMost = 500;
  if (text.find(':') == std::string::npos && !text.empty()) {
    const Result<double> count = parse_number(text);
    if (!count.ok() || !(*count > 0) || *count > kMost) return bad;
    for (const JoinedCutter& cutter : chain.cutters) strokes[cutter.number] = *count;
    return strokes;
  }
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    const std::string part = text.substr(at, end - at);
    const std::size_t colon = part.find(':');
    if (colon == std::string::npos) return bad;
    const Result<double> number = parse_number(part.substr(0, colon));
    const Result<double> count = parse_number(part.substr(colon + 1));
    if (!number.ok() || !count.ok() || !(*count > 0) || *count > kMost || *number != static_cast<int>(*number)) {
      return bad;
    }
    strokes[static_cast<int>(*number)] = *count;
    at = end + 1;
  }
  return strokes;
}

ExitCode learn(const CompareOptions& options, const ChainPair& pair) {
  if (options.learn.empty()) return ExitCode::kDone;
  const std::vector<StrokeCount> counts = stroke_counts(pair);
  if (counts.empty()) {
    spdlog::warn("--learn: nothing to learn: give --strokes, and photographs of the same cutters before and after");
    return ExitCode::kDone;
  }
  const auto before = read_stroke_counts(options.learn);
  if (!before.ok()) {
    return complained(before.error());
  }
  return put(options.learn, stroke_rows(*before, counts));
}

}  // namespace

ExitCode compare(const CompareOptions& options) {
  const Result<ChainOrder> order = chain_order_of(options.work);
  if (!order.ok()) return complained(order.error());
  const Result<Done> outputs =
      check_outputs({{"--json", options.json}, {"--html", options.html}, {"--learn", options.learn}});
  if (!outputs.ok()) return complained(outputs.error());
  std::vector<ChainInspection> days;
  for (const std::string& folder : {options.before, options.after}) {
    const Result<std::vector<fs::path>> photos = photo_list({folder});
    if (!photos.ok()) return complained(photos.error());
    ChainOrder named = *order;
    if (named.sheet.name.empty()) named.sheet.name = name_from(folder);
    days.push_back(inspected(*photos, named));
  }
  const Result<std::map<int, double>> strokes = strokes_of(options.strokes, days[0]);
  if (!strokes.ok()) return complained(strokes.error());
  const ChainPair pair{days[0], days[1], options.same_card, *strokes};
  const Comparison comparison = compare_chains(pair);

  ExitCode code = worse(code_of(days[0].photos), code_of(days[1].photos));
  code = worse(code, learn(options, pair));
  if (!options.json.empty()) code = worse(code, put(options.json, comparison_json(comparison)));
  if (!options.html.empty()) {
    // The plan is that of the day before: it stands beside what came of it.
    ReportContent content = report_of(days[0]);
    content.comparison = comparison;
    content.filed_by_plan = true;
    code = worse(code, put(options.html, html_report(content)));
  }
  if (options.json == kStandardOutput || options.html == kStandardOutput) return code;
  return worse(code, put(kStandardOutput, comparison_text(comparison, style_of(options.work))));
}

}  // namespace glintline
