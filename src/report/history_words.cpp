#include "report/history_words.h"

#include "base/text.h"
#include "report/words.h"

namespace glintline {
namespace {

/// A number as a person would write it: no zeros behind the point.
std::string plain_number(double value) {
  std::string text = fixed(value, 2);
  text.erase(text.find_last_not_of('0') + 1);
  if (!text.empty() && text.back() == '.') text.pop_back();
  return text;
}

void add_part(std::string& text, const std::string& part) {
  if (!part.empty()) text += ", " + part;
}

std::string words_of(const Job& job) {
  std::string text;
  if (job.hours) add_part(text, plain_number(*job.hours) + " h");
  if (job.tanks) add_part(text, plain_number(*job.tanks) + (*job.tanks == 1 ? " tank" : " tanks"));
  if (job.area_m2) add_part(text, plain_number(*job.area_m2) + " m² cut");
  add_part(text, job.wood);
  if (job.dirt) add_part(text, "touched dirt");
  if (job.metal) add_part(text, "touched metal");
  return text.empty() ? "job" : "job: " + text.substr(2);
}

std::string words_of(const FilingDone& filing) {
  std::string text = "filed";
  if (!filing.who.empty()) text += " by " + filing.who;
  if (filing.strokes) add_part(text, plain_number(*filing.strokes) + " strokes a cutter");
  for (const CutterStrokes& cutter : filing.otherwise) {
    add_part(text, "cutter " + std::to_string(cutter.number) + ": " + plain_number(cutter.strokes));
  }
  if (filing.cost) add_part(text, "cost " + plain_number(*filing.cost));
  return text;
}

std::string words_of(const Purchase& purchase) {
  return "bought for " + fixed(purchase.price, 2) + (purchase.currency.empty() ? "" : " " + purchase.currency);
}

std::string words_of(const TimedCut& cut) {
  std::string text = "timed cut: " + fixed(cut.section_cm2.value, 0) + " cm² in " + plain_number(cut.seconds) + " s";
  add_part(text, cut.wood);
  return text;
}

std::string shown(const std::optional<Quantity>& quantity, int decimals, const std::string& unit) {
  return quantity ? with_u95(*quantity, decimals, " +- ") + unit : "-";
}

std::string point_line(const HistoryPoint& point) {
  std::string line =
      point.at + "  " + (point.stage.empty() ? "inspected" : point.stage) + ": " + counted(point.cutters, "cutter");
  line += "; length " + shown(point.length_mm, 2, " mm") + "; rounding " + shown(point.rounding_um, 0, " um") +
          "; drop " + shown(point.drop_mm, 2, " mm");
  if (point.chips_a_cutter) line += "; chips a cutter " + fixed(*point.chips_a_cutter, 2);
  return line;
}

}  // namespace

std::string event_words(const ChainEvent& event) {
  const std::string what = std::visit([](const auto& kind) { return words_of(kind); }, event.what);
  return event.note.empty() ? what : what + " (" + event.note + ")";
}

std::string history_text(const ChainHistory& history) {
  std::string text = history.chain + "\n";
  std::size_t next = 0;
  const auto add_events = [&](const std::string& before) {
    for (; next < history.events.size() && (before.empty() || history.events[next].at < before); ++next) {
      text += "  " + history.events[next].at + "  " + event_words(history.events[next]) + "\n";
    }
  };
  for (const HistoryPoint& point : history.points) {
    add_events(point.at);
    text += "  " + point_line(point) + "\n";
  }
  add_events("");
  for (const std::string& line : history.statements) text += "  " + line + "\n";
  return text;
}

std::string differences_text(const std::vector<StageDifference>& differences) {
  std::string text;
  for (const StageDifference& difference : differences) text += difference.stage + ": " + difference.text + "\n";
  return text;
}

}  // namespace glintline
