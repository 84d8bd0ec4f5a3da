#include "report/report_view.h"

#include <algorithm>
#include <array>
#include <map>
#include <sstream>
#include <tuple>

#include "base/text.h"
#include "report/words.h"

namespace glintline {
namespace {

constexpr std::size_t kMostWorst = 6;
constexpr std::size_t kHeroReasons = 3;

struct ChainLook {
  const char* look;
  const char* sign;
};

ChainLook look_of(ChainAction action) {
  switch (action) {
    case ChainAction::kRetire:
      return {"stop", "retire"};
    case ChainAction::kOutOfUse:
      return {"stop", "low"};
    case ChainAction::kFile:
      return {"work", "file"};
    case ChainAction::kUse:
      return {"fine", "leave"};
    case ChainAction::kUndecided:
      break;
  }
  return {"unsure", "undecided"};
}

std::string upper(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::toupper(c); });
  return text;
}

std::string hand_words(const std::optional<Hand>& hand) {
  return hand ? std::string(word(*hand)) + " hand" : "hand not known";
}

const CutterWork* work_of(const ChainInspection& inspection, int number) {
  for (const CutterWork& work : inspection.plan.work) {
    if (work.number == number) return &work;
  }
  return nullptr;
}

/// What is done to a cutter: the plan's word where there is one, because a sharp cutter is filed too when the others
/// must be shortened.
Action action_of(const ChainInspection& inspection, const JoinedCutter& cutter) {
  const CutterWork* work = work_of(inspection, cutter.number);
  if (work == nullptr || cutter.verdict.action < Action::kFile) return cutter.verdict.action;
  return std::min(work->action, cutter.verdict.action);
}

int count_of(const ChainInspection& inspection, std::initializer_list<Action> actions) {
  return static_cast<int>(
      std::count_if(inspection.cutters.begin(), inspection.cutters.end(), [&](const JoinedCutter& cutter) {
        return std::find(actions.begin(), actions.end(), action_of(inspection, cutter)) != actions.end();
      }));
}

std::string counted_words(const char* verb, int count, int all, const std::string& noun) {
  if (count == 1) return std::string(verb) + " ONE " + noun;
  if (count == all) return std::string(verb) + " ALL " + noun + "S";
  return std::string(verb) + " " + std::to_string(count) + " " + noun + "S";
}

std::string filing_words(const ChainInspection& inspection) {
  const int all = inspection.expected_cutters.value_or(static_cast<int>(inspection.cutters.size()));
  // What is still undecided about a cutter, say its gauge, does not keep the plan from shortening it.
  const auto planned = static_cast<int>(
      std::count_if(inspection.cutters.begin(), inspection.cutters.end(), [&](const JoinedCutter& cutter) {
        const CutterWork* work = work_of(inspection, cutter.number);
        return cutter.verdict.action == Action::kUndecided && work != nullptr && work->action == Action::kFile;
      }));
  const int filed = planned + count_of(inspection, {Action::kFile, Action::kTouchUp});
  if (filed > 0) return counted_words("FILE", filed, all, "CUTTER");
  const int lowered = count_of(inspection, {Action::kLowerGauge});
  return lowered > 0 ? counted_words("LOWER", lowered, all, "GAUGE") : "FILE THIS CHAIN";
}

double deepest_chip_mm(const JoinedCutter& cutter) {
  double deepest = 0;
  for (const Chip& chip : cutter.measured.chips) deepest = std::max(deepest, chip.depth_mm.value);
  return deepest;
}

/// Those that want something for their own sake: by decision, then chips, then rounding.
std::vector<const JoinedCutter*> worst_first(const ChainInspection& inspection) {
  std::vector<const JoinedCutter*> worst;
  for (const JoinedCutter& cutter : inspection.cutters) {
    if (cutter.verdict.action != Action::kLeave) worst.push_back(&cutter);
  }
  const auto urgency = [](const JoinedCutter* cutter) {
    const std::optional<Quantity>& radius = cutter->measured.edge_radius_um;
    return std::tuple(cutter->verdict.action, -deepest_chip_mm(*cutter), radius ? -radius->value : 0.0);
  };
  std::stable_sort(worst.begin(), worst.end(),
                   [&](const JoinedCutter* a, const JoinedCutter* b) { return urgency(a) < urgency(b); });
  return worst;
}

ViewJson worst_view(const JoinedCutter& cutter) {
  const Action action = cutter.verdict.action;
  std::string detail = hand_words(cutter.hand);
  if (!cutter.verdict.why.empty()) detail += ": " + with_sign(cutter.verdict.why.front());
  return {{"number", cutter.number},
          {"look", look_of(action).look},
          {"sign", look_of(action).sign},
          {"action", word(action)},
          {"detail", detail}};
}

ViewJson cell_view(const ChainInspection& inspection, const JoinedCutter& cutter) {
  const Action action = action_of(inspection, cutter);
  return {{"number", cutter.number},
          {"seen", true},
          {"look", look_of(action).look},
          {"sign", look_of(action).sign},
          {"action", word(action)}};
}

/// Cutters that nobody photographed, as far as the sheet lets their hand be known.
void add_unseen(const ChainInspection& inspection, std::map<std::string, std::map<int, ViewJson>>& rows) {
  for (int number = 1; number <= inspection.expected_cutters.value_or(0); ++number) {
    const bool seen = std::any_of(inspection.cutters.begin(), inspection.cutters.end(),
                                  [number](const JoinedCutter& cutter) { return cutter.number == number; });
    if (!seen) rows["not looked at"][number] = {{"number", number}, {"seen", false}, {"look", "unseen"}};
  }
}

ViewJson key_view(const ChainInspection& inspection) {
  ViewJson key = ViewJson::array();
  for (const Action action : {Action::kGaugeTooLow, Action::kRetire, Action::kUndecided, Action::kFile,
                              Action::kLowerGauge, Action::kTouchUp, Action::kLeave}) {
    const int count = count_of(inspection, {action});
    if (count == 0) continue;
    const ActionLook look = look_of(action);
    key.push_back({{"look", look.look}, {"sign", look.sign}, {"meaning", look.meaning}, {"count", count}});
  }
  return key;
}

std::string band_text(const CountBand& band) { return fixed(band.least, 0) + " to " + fixed(band.most, 0); }

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (auto line = lines.begin(); line != lines.end(); ++line) {
    if (std::find(lines.begin(), line, *line) != line) continue;  // said once is enough
    text += (text.empty() ? "" : "; ") + with_sign(*line);
  }
  return text;
}

}  // namespace

ViewJson work_view(const CutterWork& work) {
  ViewJson row{{"number", work.number},       {"look", look_of(work.action).look},
               {"action", word(work.action)}, {"take", nullptr},
               {"take_u95", nullptr},         {"strokes", nullptr},
               {"strokes_band", nullptr},     {"gauge", nullptr},
               {"gauge_u95", nullptr},        {"row_note", joined(work.notes)}};
  if (work.take_mm) {
    row["take"] = split_text(*work.take_mm, 2).value;
    row["take_u95"] = split_text(*work.take_mm, 2).u95;
  }
  if (work.strokes) {
    row["strokes"] = fixed(work.strokes->likely, 0);
    row["strokes_band"] = band_text(*work.strokes);
  }
  if (work.gauge_take_mm) {
    row["gauge"] = split_text(*work.gauge_take_mm, 2).value;
    row["gauge_u95"] = split_text(*work.gauge_take_mm, 2).u95;
  }
  return row;
}

namespace {

std::optional<Hand> hand_of(const ChainInspection& inspection, int number) {
  for (const JoinedCutter& cutter : inspection.cutters) {
    if (cutter.number == number) return cutter.hand;
  }
  return std::nullopt;
}

}  // namespace

std::vector<const CutterWork*> ordered_work(const ChainInspection& inspection) {
  std::vector<const CutterWork*> ordered;
  for (const int number : inspection.plan.filing_order) {
    if (const CutterWork* work = work_of(inspection, number)) ordered.push_back(work);
  }
  for (const CutterWork& work : inspection.plan.work) {
    if (std::find(ordered.begin(), ordered.end(), &work) == ordered.end()) ordered.push_back(&work);
  }
  std::erase_if(ordered, [](const CutterWork* work) {
    const bool idle = work->action == Action::kLeave || work->action == Action::kUndecided;
    return idle && !work->take_mm && !work->gauge_take_mm;
  });
  return ordered;
}

std::string round_title(const std::optional<Hand>& hand, bool first) {
  if (!hand) return "hand not known";
  return std::string(first ? "First the " : "Then the ") + word(*hand) + "-hand cutters";
}

namespace {

ViewJson rounds_view(const ChainInspection& inspection) {
  ViewJson rounds = ViewJson::array();
  std::optional<Hand> hand;
  for (const CutterWork* work : ordered_work(inspection)) {
    const std::optional<Hand> own = hand_of(inspection, work->number);
    if (rounds.empty() || own != hand) {
      rounds.push_back({{"title", round_title(own, rounds.empty())}, {"rows", ViewJson::array()}});
    }
    hand = own;
    rounds.back()["rows"].push_back(work_view(*work));
  }
  return rounds;
}

}  // namespace

std::string target_text(const FilingPlan& plan) {
  if (!plan.target_mm) return "No common length can be planned from these photographs.";
  std::string text = "All cutters to " + with_u95(*plan.target_mm, 2, " ± ") + " mm";
  if (plan.decided_by) text += ", set by cutter " + std::to_string(*plan.decided_by);
  return text + ".";
}

std::string stroke_text(const StrokeStock& stock) {
  return stock.mm.value > 0 ? "One stroke takes " + with_u95(stock.mm, 3, " ± ") + " mm (" + with_sign(stock.source) + ")."
                            : "";
}

std::string sharpenings_text(const FilingPlan& plan) {
  return plan.sharpenings_left ? "Sharpenings left after this one: about " + fixed(plan.sharpenings_left->likely, 0) +
                                     " (" + band_text(*plan.sharpenings_left) + ")."
                               : "";
}

namespace {

ViewJson order_notes(const FilingPlan& plan) {
  ViewJson notes = ViewJson::array();
  if (const std::string text = stroke_text(plan.stock_per_stroke); !text.empty()) notes.push_back(text);
  if (plan.left_less_right_mm) {
    notes.push_back("Left-hand cutters less right-hand ones, now: " + with_u95(*plan.left_less_right_mm, 2, " ± ") +
                    " mm.");
  }
  if (const std::string text = sharpenings_text(plan); !text.empty()) notes.push_back(text);
  for (const std::string& note : plan.notes) notes.push_back(with_sign(note));
  for (const std::string& note : plan.not_planned) notes.push_back("Not planned: " + with_sign(note));
  return notes;
}

ViewJson options_view(const FilingPlan& plan) {
  ViewJson options = ViewJson::array();
  for (const PlanOption& option : plan.options) {
    std::string gain;
    if (option.saved_mm) gain += "saves " + with_u95(*option.saved_mm, 2, " ± ") + " mm a cutter";
    if (option.sharpenings_left) {
      gain += std::string(gain.empty() ? "" : "; ") + band_text(*option.sharpenings_left) + " sharpenings left";
    }
    ViewJson but = ViewJson::array();
    for (const std::string& line : option.but) but.push_back(with_sign(line));
    options.push_back({{"what", with_sign(option.what)}, {"gain", gain}, {"but", but}});
  }
  return options;
}

ViewJson words_apart(const std::string& text) {
  ViewJson words = ViewJson::array();
  std::istringstream stream(text);
  for (std::string one; stream >> one;) words.push_back(one);
  return words;
}

}  // namespace

std::string shown_time(std::string at) {
  std::replace(at.begin(), at.end(), 'T', ' ');
  return at;
}

ActionLook look_of(Action action) {
  switch (action) {
    case Action::kGaugeTooLow:
      return {"stop", "low", "gauge too low: out of use"};
    case Action::kRetire:
      return {"stop", "retire", "retire"};
    case Action::kUndecided:
      return {"unsure", "undecided", "undecided: look again"};
    case Action::kFile:
      return {"work", "file", "file"};
    case Action::kLowerGauge:
      return {"work", "lower", "lower the gauge"};
    case Action::kTouchUp:
      return {"work", "touch", "touch up"};
    case Action::kLeave:
      return {"fine", "leave", "leave"};
  }
  return {"unsure", "undecided", "undecided"};
}

SplitText split_text(const Quantity& quantity, int decimals) {
  const std::string both = with_u95(quantity, decimals, "|");
  const std::size_t bar = both.find('|');
  return {both.substr(0, bar), both.substr(bar + 1)};
}

std::string three_words(const ChainInspection& inspection) {
  switch (inspection.verdict.action) {
    case ChainAction::kRetire:
      return "RETIRE THIS CHAIN";
    case ChainAction::kOutOfUse:
      return "DO NOT RUN";
    case ChainAction::kFile:
      return filing_words(inspection);
    case ChainAction::kUse:
      return "READY TO CUT";
    case ChainAction::kUndecided:
      break;
  }
  return "LOOK AGAIN FIRST";
}

ViewJson head_view(const ReportContent& content) {
  const RecordedInspection& recorded = content.recorded;
  const ChainInspection& inspection = recorded.inspection;
  ViewJson why = ViewJson::array();
  for (const std::string& line : inspection.verdict.why) {
    if (why.size() < kHeroReasons) why.push_back(with_sign(line));
  }
  const std::vector<const JoinedCutter*> worst = worst_first(inspection);
  ViewJson list = ViewJson::array();
  for (std::size_t i = 0; i < std::min(kMostWorst, worst.size()); ++i) {
    list.push_back(worst_view(*worst[i]));
  }
  const int more = static_cast<int>(worst.size()) - static_cast<int>(list.size());
  return {{"chain", recorded.chain.empty() ? "Chain without a name" : recorded.chain},
          {"at", shown_time(recorded.at)},
          {"stage", recorded.stage},
          {"program", recorded.program_version},
          {"words", three_words(inspection)},
          {"three_words", words_apart(three_words(inspection))},
          {"look", look_of(inspection.verdict.action).look},
          {"sign", look_of(inspection.verdict.action).sign},
          {"hero_why", why},
          {"has_worst", !list.empty()},
          {"worst", list},
          {"worst_more", more > 0 ? "and " + counted(more, "more cutter") + " that want something" : ""}};
}

ViewJson strip_view(const ChainInspection& inspection) {
  std::map<std::string, std::map<int, ViewJson>> rows;
  for (const JoinedCutter& cutter : inspection.cutters) {
    rows[hand_words(cutter.hand)][cutter.number] = cell_view(inspection, cutter);
  }
  add_unseen(inspection, rows);
  ViewJson hands = ViewJson::array();
  for (const std::string title : {"left hand", "right hand", "hand not known", "not looked at"}) {
    if (rows.count(title) == 0) continue;
    ViewJson cells = ViewJson::array();
    for (const auto& [number, cell] : rows[title]) cells.push_back(cell);
    std::string shown = title;
    shown.front() = upper(shown.substr(0, 1)).front();
    hands.push_back({{"title", shown}, {"cells", cells}});
  }
  return {{"hands", hands}, {"key", key_view(inspection)}};
}

ViewJson order_view(const ChainInspection& inspection) {
  const ViewJson rounds = rounds_view(inspection);
  const ViewJson options = options_view(inspection.plan);
  const bool undecided = inspection.verdict.action == ChainAction::kUndecided;
  const ViewJson notes = order_notes(inspection.plan);
  return {{"has_order", !rounds.empty() || !notes.empty()},
          {"provisional", undecided ? "For now: what is undecided above comes first and may change this." : ""},
          {"target", target_text(inspection.plan)},
          {"rounds", rounds},
          {"order_notes", notes},
          {"has_options", !options.empty()},
          {"options", options}};
}

}  // namespace glintline
