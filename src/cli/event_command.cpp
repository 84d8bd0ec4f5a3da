#include "cli/event_command.h"

#include <cmath>

#include "cli/complaint.h"
#include "cli/record_place.h"
#include "cli/terminal.h"
#include "read/option_text.h"
#include "report/history_words.h"
#include "report/text_layout.h"

namespace glintline {
namespace {

using EventWhat = std::variant<Job, FilingDone, Purchase, TimedCut>;

/// How far off the area of a sawn face is where nobody says: a diameter read to 2 % with a tape (proposed, no source).
constexpr double kSectionU95 = 0.04;

Error bad(const std::string& option, const std::string& what) { return {Fault::kBadOption, what, option}; }

/// An amount must be over nothing and within what a chain can see in its life.
Result<Done> sensible(const char* option, const std::optional<double>& amount, double most) {
  if (!amount || (*amount > 0 && *amount <= most)) return Done{};
  return bad(option, "must be over 0 and at most " + std::to_string(static_cast<int>(most)));
}

Result<EventWhat> job_of(const EventOptions& options) {
  for (const auto& [option, amount, most] :
       {std::tuple{"--hours", options.hours, 1000.0}, std::tuple{"--tanks", options.tanks, 1000.0},
        std::tuple{"--area", options.area_m2, 10000.0}}) {
    const Result<Done> fits = sensible(option, amount, most);
    if (!fits.ok()) return fits.error();
  }
  if (!options.hours && !options.tanks && !options.area_m2 && !options.dirt && !options.metal) {
    return bad("event job", "say how much: --hours, --tanks or --area; or what it met: --dirt, --metal");
  }
  return EventWhat(Job{options.hours, options.tanks, options.area_m2, options.wood, options.dirt, options.metal});
}

/// "7:9"
Result<CutterStrokes> strokes_on(const std::string& text) {
  const std::size_t colon = text.find(':');
  const Result<double> number = parse_number(text.substr(0, colon));
  const Result<double> strokes = parse_number(colon == std::string::npos ? "" : text.substr(colon + 1));
  if (!number.ok() || !strokes.ok() || *number < 1 || *number != std::floor(*number) || *strokes < 0) {
    return bad("--strokes-on " + text, "give cutter and strokes as 7:9");
  }
  return CutterStrokes{static_cast<int>(*number), *strokes};
}

Result<EventWhat> filing_of(const EventOptions& options) {
  const Result<Done> fits = sensible("--strokes", options.strokes, 500);
  if (!fits.ok()) return fits.error();
  if (options.cost && !(*options.cost >= 0)) return bad("--cost", "must not be under 0");
  FilingDone filing{options.who, options.strokes, {}, options.cost};
  for (const std::string& text : options.strokes_on) {
    const Result<CutterStrokes> cutter = strokes_on(text);
    if (!cutter.ok()) return cutter.error();
    filing.otherwise.push_back(*cutter);
  }
  return EventWhat(filing);
}

Result<EventWhat> purchase_of(const EventOptions& options) {
  if (!options.price || !(*options.price >= 0)) return bad("--price", "say what the chain cost");
  return EventWhat(Purchase{*options.price, options.currency});
}

/// "491" or "491+-10", cm²
Result<Quantity> section_of(const std::string& text) {
  const std::size_t sign = text.find("+-");
  const Result<double> area = parse_number(text.substr(0, sign));
  if (!area.ok() || !(*area > 0)) return bad("--section " + text, "give the sawn face in cm²: 491 or 491+-10");
  double u95 = kSectionU95 * *area;
  if (sign != std::string::npos) {
    const Result<double> said = parse_number(text.substr(sign + 2));
    if (!said.ok() || !(*said >= 0)) return bad("--section " + text, "give the sawn face in cm²: 491 or 491+-10");
    u95 = *said;
  }
  return Quantity{*area, {{Source::kDefinition, u95 / kCoverage}}};
}

Result<EventWhat> cut_of(const EventOptions& options) {
  if (!options.seconds || !(*options.seconds > 0)) return bad("--seconds", "say how long the cut took");
  const Result<Quantity> section = section_of(options.section);
  if (!section.ok()) return section.error();
  return EventWhat(TimedCut{*options.seconds, *section, options.wood});
}

Result<EventWhat> what_of(EventKind kind, const EventOptions& options) {
  switch (kind) {
    case EventKind::kJob:
      return job_of(options);
    case EventKind::kFiling:
      return filing_of(options);
    case EventKind::kBought:
      return purchase_of(options);
    case EventKind::kCut:
      break;
  }
  return cut_of(options);
}

Result<ChainEvent> event_of(EventKind kind, const EventOptions& options) {
  const Result<EventWhat> what = what_of(kind, options);
  if (!what.ok()) return what.error();
  const Result<std::string> at = parse_record_time(options.at);
  if (!at.ok()) return at.error();
  return ChainEvent{fresh_record_id(), options.chain, *at, *what, options.note};
}

}  // namespace

ExitCode note_event(EventKind kind, const EventOptions& options) {
  const Result<ChainEvent> event = event_of(kind, options);
  if (!event.ok()) return complained(event.error());
  Result<Record> opened = open_record(options.record, RecordOpening::kCreateIfAbsent);
  if (!opened.ok()) return complained(opened.error());
  Record record = std::move(opened).value();
  const Result<Done> added = record.add(*event);
  if (!added.ok()) return complained(added.error());
  const Result<Done> told =
      print(printable("Recorded for " + event->chain + ", " + event->at + ": " + event_words(*event)) + "\n");
  return told.ok() ? ExitCode::kDone : complained(told.error());
}

}  // namespace glintline
