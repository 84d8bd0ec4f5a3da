// The sheet of paper that lies beside the vice: what to do to each cutter and, behind it in the same row, what came of
// it. It must be read at a glance, so it holds figures; reasons stand on the pages behind it.
#include <algorithm>
#include <cmath>
#include <set>

#include "base/text.h"
#include "report/report_view.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

/// What an A4 sheet holds besides its head, in lines of a dense row's height (by experiment: tests/report, the fullest
/// sheets printed).
constexpr int kLines = 47;
/// What a group of cutters costs: its title and, on a sheet's first group or where they stand side by side, the table's
/// head.
constexpr int kTitleLines = 2;
constexpr int kHeadLines = 2;
/// Letters in a line of notes, and in one of the two boxes over the table, which have room for so many lines.
constexpr int kNoteLetters = 135;
constexpr int kSideLetters = 55;
constexpr int kSideLines = 6;
/// Few cutters get larger letters and boxes.
constexpr std::size_t kRoomyRows = 16;
/// Without a proof behind them, the rows of both hands stand side by side.
constexpr std::size_t kRoomyPlanRows = 28;
constexpr std::size_t kMostLines = 4;

struct Row {
  int number = 0;
  const JoinedCutter* cutter = nullptr;
  const CutterWork* work = nullptr;
  const ComparedCutter* compared = nullptr;
};

struct Group {
  std::optional<Hand> hand;
  std::vector<Row> rows;
};

template <class List>
auto* numbered(const List& list, int number) {
  const auto found = std::find_if(list.begin(), list.end(), [&](const auto& one) { return one.number == number; });
  return found == list.end() ? nullptr : &*found;
}

/// In the order of filing, then those that only were compared, each with its hand.
std::vector<Group> groups_of(const ReportContent& content) {
  const ChainInspection& chain = content.recorded.inspection;
  std::vector<int> numbers;
  for (const CutterWork* work : ordered_work(chain)) numbers.push_back(work->number);
  static const std::vector<ComparedCutter> kNone;
  const std::vector<ComparedCutter>& compared = content.comparison ? content.comparison->cutters : kNone;
  for (const ComparedCutter& cutter : compared) {
    if (std::find(numbers.begin(), numbers.end(), cutter.number) == numbers.end()) numbers.push_back(cutter.number);
  }
  std::vector<Group> groups;
  for (const int number : numbers) {
    const Row row{number, numbered(chain.cutters, number), numbered(chain.plan.work, number),
                  numbered(compared, number)};
    const std::optional<Hand> hand = row.cutter != nullptr ? row.cutter->hand : row.compared->hand;
    auto group =
        std::find_if(groups.begin(), groups.end(), [&](const Group& known) { return known.hand == hand; });
    if (group == groups.end()) group = groups.insert(groups.end(), {hand, {}});
    group->rows.push_back(row);
  }
  return groups;
}

// --- the plan's half ---------------------------------------------------------------------------------------------

/// "3rd" and "left-hander behind the mark"
std::pair<std::string, std::string> place_apart(const JoinedCutter* cutter) {
  const std::string place = cutter != nullptr ? cutter->place : "";
  const std::size_t space = place.find(' ');
  return space == std::string::npos ? std::pair(place, std::string())
                                    : std::pair(place.substr(0, space), place.substr(space + 1));
}

/// The place that is written out in the group's title, so that the rows need only its count.
std::string common_place(const Group& group) {
  const std::string place = group.rows.front().cutter != nullptr ? group.rows.front().cutter->place : "";
  return !place.empty() && place.front() >= '0' && place.front() <= '9' ? place : "";
}

ViewJson plan_cells(const Row& row, const std::string& common) {
  CutterWork none;
  none.number = row.number;
  none.action = Action::kLeave;
  ViewJson cells = work_view(row.work != nullptr ? *row.work : none);
  if (row.work != nullptr && row.work->strokes) {
    cells["strokes_band"] = fixed(row.work->strokes->least, 0) + "–" + fixed(row.work->strokes->most, 0);
  }
  cells["box"] = row.work != nullptr && (row.work->take_mm || row.work->gauge_take_mm);
  const auto [which, tail] = place_apart(row.cutter);
  cells["place"] = !tail.empty() && common.ends_with(" " + tail) ? which : row.cutter != nullptr ? row.cutter->place : "";
  return cells;
}

// --- the proof's half --------------------------------------------------------------------------------------------

const Change* change_in(const ComparedCutter& cutter, const char* quantity) {
  const auto found = std::find_if(cutter.changes.begin(), cutter.changes.end(),
                                  [&](const Change& change) { return change.quantity == quantity; });
  return found == cutter.changes.end() ? nullptr : &*found;
}

ViewJson figure(const std::optional<Quantity>& quantity, const std::optional<double>& most, int decimals) {
  if (quantity) {
    const SplitText text = split_text(*quantity, decimals);
    return {{"lead", ""}, {"value", text.value}, {"u95", text.u95}};
  }
  if (most) return {{"lead", "under"}, {"value", fixed(*most, decimals)}, {"u95", ""}};
  return {{"lead", ""}, {"value", "–"}, {"u95", ""}};
}

ViewJson day_cell(const Change* change, bool after, int decimals) {
  if (change == nullptr) return figure({}, {}, decimals);
  return after ? figure(change->after, change->after_most, decimals)
               : figure(change->before, change->before_most, decimals);
}

ViewJson taken_cell(const Change* length) {
  if (length == nullptr || !length->difference) return figure({}, {}, 2);
  Quantity taken = *length->difference;
  taken.value = -taken.value + 0.0;
  ViewJson cell = figure(taken, {}, 2);
  cell["doubt"] = !length->real;
  return cell;
}

std::string chips_text(const ComparedCutter& cutter) {
  if (!cutter.searched_after) return "not seen";
  const auto gone = static_cast<int>(std::count_if(cutter.chips.begin(), cutter.chips.end(),
                                                   [](const ComparedChip& chip) { return !chip.after_mm; }));
  std::string text;
  for (const ComparedChip& chip : cutter.chips) {
    if (chip.after_mm) text += (text.empty() ? "" : ", ") + with_u95(*chip.after_mm, 2, " ± ") + " left";
  }
  if (gone > 0) text += (text.empty() ? "" : ", ") + std::to_string(gone) + " gone";
  return text.empty() ? "none" : text;
}

struct EdgeLook {
  const char* look;
  const char* sign;
  const char* word;
};

EdgeLook look_of(EdgeAfter edge) {
  switch (edge) {
    case EdgeAfter::kClean:
      return {"fine", "leave", "clean"};
    case EdgeAfter::kDamaged:
      return {"stop", "retire", "again"};
    case EdgeAfter::kNotKnown:
      break;
  }
  return {"unsure", "undecided", "open"};
}

ViewJson proof_cells(const ComparedCutter& cutter) {
  const Change* rounding = change_in(cutter, "edge radius");
  const Change* drop = change_in(cutter, "gauge drop");
  const EdgeLook edge = look_of(cutter.edge);
  return {{"taken", taken_cell(change_in(cutter, "length"))},
          {"chips", chips_text(cutter)},
          {"rounding_before", day_cell(rounding, false, 0)},
          {"rounding_after", day_cell(rounding, true, 0)},
          {"drop_before", day_cell(drop, false, 2)},
          {"drop_after", day_cell(drop, true, 2)},
          {"edge_look", edge.look},
          {"edge_sign", edge.sign},
          {"edge_word", edge.word}};
}

// --- sheets ------------------------------------------------------------------------------------------------------

ViewJson row_view(const Row& row, const std::string& common, bool with_proof) {
  ViewJson view = plan_cells(row, common);
  view["proof"] = with_proof && row.compared != nullptr ? proof_cells(*row.compared) : ViewJson(nullptr);
  view["no_proof"] = with_proof && row.compared == nullptr;
  return view;
}

/// Cuts the groups into sheets, the first of which has `over` lines less; a group that goes on says so in its title.
std::vector<std::vector<ViewJson>> dealt_out(const std::vector<Group>& groups, bool with_proof, int over) {
  std::vector<std::vector<ViewJson>> sheets(1);
  // Both hands stand side by side where no proof takes the room.
  const int columns = with_proof ? 1 : 2;
  int left = columns * (kLines - over);
  bool first = true;
  for (const Group& group : groups) {
    const std::string common = common_place(group);
    std::string title = round_title(group.hand, first);
    if (!common.empty()) title += ": " + place_apart(group.rows.front().cutter).first + " is the " + common;
    first = false;
    ViewJson rows = ViewJson::array();
    const auto close = [&] {
      const bool headed = !with_proof || sheets.back().empty();
      if (!rows.empty()) sheets.back().push_back({{"title", title}, {"headed", headed}, {"rows", rows}});
      rows = ViewJson::array();
    };
    left -= kTitleLines + (with_proof && !sheets.back().empty() ? 0 : kHeadLines);
    for (const Row& row : group.rows) {
      if (left <= 0) {
        close();
        title += title.ends_with("(goes on)") ? "" : " (goes on)";
        sheets.emplace_back();
        left = columns * kLines - kTitleLines - kHeadLines;
      }
      rows.push_back(row_view(row, common, with_proof));
      --left;
    }
    close();
  }
  return sheets;
}

/// Each note once, with the numbers of the cutters it is for.
std::vector<std::string> row_notes(const std::vector<Group>& groups) {
  std::vector<std::string> notes;
  std::vector<std::string> numbers;
  for (const Group& group : groups) {
    for (const Row& row : group.rows) {
      if (row.work == nullptr) continue;
      std::set<std::string> said;
      for (const std::string& note : row.work->notes) {
        if (!said.insert(note).second) continue;
        const auto known = std::find(notes.begin(), notes.end(), note);
        if (known == notes.end()) {
          notes.push_back(note);
          numbers.push_back(std::to_string(row.number));
        } else {
          numbers[static_cast<std::size_t>(known - notes.begin())] += ", " + std::to_string(row.number);
        }
      }
    }
  }
  for (std::size_t i = 0; i < notes.size(); ++i) notes[i] = numbers[i] + ": " + notes[i];
  return notes;
}

/// What does not go into a row, most needed at the vice first.
std::vector<std::string> all_notes(const ReportContent& content, const std::vector<Group>& groups) {
  const ChainInspection& chain = content.recorded.inspection;
  std::vector<std::string> notes = row_notes(groups);
  for (const std::string& line : chain.plan.not_planned) notes.push_back("Not planned: " + line);
  for (const std::string& line : chain.plan.notes) notes.push_back(line);
  if (content.comparison) {
    for (const std::string& line : content.comparison->not_compared) notes.push_back("Not compared: " + line);
  }
  for (const std::string& line : chain.verdict.cannot_claim) notes.push_back(line);
  return notes;
}

/// As many as there is room for; how many are left out is said.
ViewJson notes_in(const std::vector<std::string>& notes, int lines) {
  ViewJson shown = ViewJson::array();
  for (std::size_t i = 0; i < notes.size(); ++i) {
    const std::string text = with_sign(notes[i]);
    const int needed = 1 + display_width(text) / kNoteLetters;
    const int kept_back = i + 1 < notes.size() ? 1 : 0;
    if (needed + kept_back > lines) {
      shown.push_back(counted(static_cast<int>(notes.size() - i), "more note") + " on the pages behind.");
      break;
    }
    lines -= needed;
    shown.push_back(text);
  }
  return shown;
}

ViewJson some_lines(const std::vector<std::string>& lines) {
  ViewJson shown = ViewJson::array();
  for (const std::string& line : lines) {
    if (line.empty()) continue;
    if (shown.size() == kMostLines) {
      shown.push_back("More stands on the pages behind.");
      break;
    }
    shown.push_back(with_sign(line));
  }
  return shown;
}

/// Lines that the fuller of the two boxes takes beyond its room.
int lines_over(const ViewJson& side) {
  int lines = 0;
  for (const ViewJson& line : side) lines += 1 + display_width(line.get<std::string>()) / kSideLetters;
  return std::max(0, lines - kSideLines);
}

/// What the comparison comes to, for a look from the vice.
std::string proof_words(const Comparison& comparison) {
  std::string again;
  int open = 0;
  for (const ComparedCutter& cutter : comparison.cutters) {
    if (cutter.edge == EdgeAfter::kDamaged) again += (again.empty() ? "" : ", ") + std::to_string(cutter.number);
    open += cutter.edge == EdgeAfter::kNotKnown ? 1 : 0;
  }
  if (comparison.cutters.empty()) return "NOTHING TO COMPARE";
  if (!again.empty()) return "FILE AGAIN: " + again;
  return open > 0 ? std::to_string(open) + " OF " + std::to_string(comparison.cutters.size()) + " EDGES OPEN"
                  : "ALL EDGES CLEAN";
}

/// Why, then to what length and how; the length is said once.
ViewJson plan_lines_of(const ChainInspection& chain) {
  ViewJson lines = some_lines(chain.verdict.why);
  const std::string target = chain.plan.target_mm ? with_u95(*chain.plan.target_mm, 2, " ± ") : "";
  const bool said = !target.empty() && std::any_of(lines.begin(), lines.end(), [&](const ViewJson& line) {
    return line.get<std::string>().find(target) != std::string::npos;
  });
  for (const ViewJson& line : some_lines({said ? "" : target_text(chain.plan),
                                          stroke_text(chain.plan.stock_per_stroke), sharpenings_text(chain.plan)})) {
    lines.push_back(line);
  }
  return lines;
}

int lines_taken(const std::vector<ViewJson>& groups, bool with_proof, bool roomy) {
  std::vector<int> heights;
  for (const ViewJson& group : groups) {
    const auto rows = static_cast<int>(group["rows"].size());
    heights.push_back(kTitleLines + (group["headed"].get<bool>() ? kHeadLines : 0) + (roomy ? 2 * rows : rows));
  }
  if (with_proof) {
    int sum = 0;
    for (const int height : heights) sum += height;
    return sum;
  }
  int tallest_pairs = 0;
  for (std::size_t i = 0; i < heights.size(); i += 2) {
    tallest_pairs += i + 1 < heights.size() ? std::max(heights[i], heights[i + 1]) : heights[i];
  }
  return tallest_pairs;
}

}  // namespace

ViewJson bench_view(const ReportContent& content) {
  const ChainInspection& chain = content.recorded.inspection;
  const bool with_proof = content.comparison.has_value();
  const std::vector<Group> groups = groups_of(content);
  std::size_t rows = 0;
  for (const Group& group : groups) rows += group.rows.size();
  const bool roomy = rows <= (with_proof ? kRoomyRows : kRoomyPlanRows);
  const std::vector<std::string> notes = all_notes(content, groups);

  const ViewJson plan_lines = plan_lines_of(chain);
  const ViewJson proof_lines = with_proof ? some_lines(content.comparison->verdict) : ViewJson::array();
  const int over = std::max(lines_over(plan_lines), lines_over(proof_lines));
  const std::vector<std::vector<ViewJson>> dealt = dealt_out(groups, with_proof, over);

  ViewJson sheets = ViewJson::array();
  for (std::size_t i = 0; i < dealt.size(); ++i) {
    const bool last = i + 1 == dealt.size();
    const std::string nth = "sheet " + std::to_string(i + 1) + " of " + std::to_string(dealt.size());
    const int room = kLines - (i == 0 ? over : -kSideLines) - lines_taken(dealt[i], with_proof, roomy);
    sheets.push_back({{"nth", dealt.size() > 1 ? nth : ""},
                      {"opening", i == 0},
                      {"groups", dealt[i]},
                      {"goes_on", last ? "" : "The cutters do not fit on one sheet: they go on on the next."},
                      {"notes", last ? notes_in(notes, std::max(1, room)) : ViewJson::array()}});
  }
  return {{"sheets", sheets},
          {"roomy", roomy},
          {"with_proof", with_proof},
          {"plan_title", content.filed_by_plan ? "The plan, before filing" : "To do now"},
          {"proof_title", content.filed_by_plan ? "What the filing did" : "What changed since the day before"},
          {"plan_lines", plan_lines},
          {"proof_words", with_proof ? proof_words(*content.comparison) : ""},
          {"proof_lines", proof_lines}};
}

}  // namespace glintline
