#include "report/chain_text.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/text.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {

const char* word(ChainAction action) {
  switch (action) {
    case ChainAction::kRetire:
      return "retire";
    case ChainAction::kOutOfUse:
      return "out of use";
    case ChainAction::kFile:
      return "file";
    case ChainAction::kUse:
      return "use";
    case ChainAction::kUndecided:
      break;
  }
  return "undecided";
}

namespace {

constexpr std::size_t kWorstShown = 12;
constexpr std::size_t kReasonsShown = 2;

/// Lines wrapped to the terminal, in its own characters.
class Page {
 public:
  explicit Page(const TableStyle& style) : style_(style) {}

  [[nodiscard]] std::string spelled(const std::string& text) const {
    return style_.unicode ? with_sign(printable(text)) : ascii(text);
  }

  void line(const std::string& text = "") { text_ += text + "\n"; }

  /// Wrapped, later lines hanging under the text behind `lead`.
  void item(const std::string& text, const std::string& lead = "  - ") {
    const std::string hang(static_cast<std::size_t>(display_width(lead)), ' ');
    const int width = std::max(20, style_.width - display_width(lead));
    bool first = true;
    for (const std::string& part :
         wrapped(spelled(text), width, [](const std::string& p) { return display_width(p); })) {
      line((first ? lead : hang) + part);
      first = false;
    }
  }

  void section(const std::string& head, const std::vector<std::string>& items) {
    if (items.empty()) return;
    line();
    line(bold(head));
    for (const std::string& text : items) item(text);
  }

  [[nodiscard]] std::string bold(const std::string& text) const {
    return style_.colour ? "\x1b[1m" + text + "\x1b[0m" : text;
  }

  [[nodiscard]] std::string figure(const std::optional<Quantity>& q, int decimals) const {
    return q ? with_u95(*q, decimals, style_.unicode ? "±" : "+-") : "-";
  }

  /// Columns as wide as their widest cell; numbers stand on the right.
  void table(const std::vector<std::vector<std::string>>& rows, std::size_t left_columns) {
    std::vector<int> widths;
    for (const auto& row : rows) {
      widths.resize(std::max(widths.size(), row.size()), 0);
      for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], display_width(row[i]));
    }
    for (const auto& row : rows) {
      std::string text = " ";
      for (std::size_t i = 0; i < row.size(); ++i)
        text.append(1, ' ').append(padded(row[i], widths[i] + 1, i >= left_columns));
      text.erase(text.find_last_not_of(' ') + 1);
      line(text);
    }
  }

  [[nodiscard]] const TableStyle& style() const { return style_; }
  [[nodiscard]] std::string take() { return std::move(text_); }

 private:
  TableStyle style_;
  std::string text_;
};

/// "  7: "
std::string lead_of(int number) { return std::string("  ").append(std::to_string(number)).append(": "); }

std::string whole(double value) { return fixed(std::round(value), 0); }

std::string band_text(const CountBand& band) {
  return whole(band.likely) + " (" + whole(std::floor(band.least)) + " to " + whole(std::ceil(band.most)) + ")";
}

const CutterWork* work_of(const ChainInspection& chain, int number) {
  const auto found = std::find_if(chain.plan.work.begin(), chain.plan.work.end(),
                                  [&](const CutterWork& w) { return w.number == number; });
  return found == chain.plan.work.end() ? nullptr : &*found;
}

const JoinedCutter* cutter_of(const ChainInspection& chain, int number) {
  const auto found = std::find_if(chain.cutters.begin(), chain.cutters.end(),
                                  [&](const JoinedCutter& c) { return c.number == number; });
  return found == chain.cutters.end() ? nullptr : &*found;
}

double deepest_chip(const JoinedCutter& cutter) {
  double deepest = 0;
  for (const Chip& chip : cutter.measured.chips) deepest = std::max(deepest, chip.depth_mm.value);
  return deepest;
}

std::vector<const JoinedCutter*> worst_first(const ChainInspection& chain) {
  std::vector<const JoinedCutter*> worst;
  for (const JoinedCutter& c : chain.cutters) {
    if (c.verdict.action != Action::kLeave) worst.push_back(&c);
  }
  std::stable_sort(worst.begin(), worst.end(), [](const JoinedCutter* a, const JoinedCutter* b) {
    if (a->verdict.action != b->verdict.action) return a->verdict.action < b->verdict.action;
    return deepest_chip(*a) > deepest_chip(*b);
  });
  return worst;
}

void put_head(Page& page, const ChainInspection& chain) {
  const std::string name = chain.sheet.name.empty() ? "chain" : "chain " + chain.sheet.name;
  page.line(page.bold(page.spelled(name + ": " + word(chain.verdict.action))));
  for (const std::string& why : chain.verdict.why) page.item(why);
  const auto refused = std::count_if(chain.photos.begin(), chain.photos.end(),
                                     [](const Inspection& photo) { return photo.refusal.has_value(); });
  std::string seen = counted(static_cast<int>(chain.cutters.size()), "cutter");
  if (chain.expected_cutters) seen += " of " + std::to_string(*chain.expected_cutters);
  seen += " in " + counted(static_cast<int>(chain.photos.size()), "photograph");
  if (refused > 0) seen += ", " + std::to_string(refused) + " of them spoiled";
  page.item(seen);
}

void put_worst(Page& page, const ChainInspection& chain) {
  const auto worst = worst_first(chain);
  if (worst.empty()) return;
  page.line();
  page.line(page.bold("Worst first"));
  const std::size_t shown = page.style().all_reasons ? worst.size() : std::min(worst.size(), kWorstShown);
  for (std::size_t i = 0; i < shown; ++i) {
    const JoinedCutter& c = *worst[i];
    page.item(std::to_string(c.number) + ", " + c.place + ": " + word(c.verdict.action), "  ");
    std::vector<std::string> reasons = c.verdict.why;
    if (!page.style().all_reasons) reasons.resize(std::min(reasons.size(), kReasonsShown));
    for (const std::string& contradiction : c.contradictions) {
      if (std::find(reasons.begin(), reasons.end(), contradiction) == reasons.end()) reasons.push_back(contradiction);
    }
    for (const std::string& reason : reasons) page.item(reason, "      - ");
  }
  if (shown < worst.size()) {
    page.item(
        std::string("and ") + counted(static_cast<int>(worst.size() - shown), "more cutter") + " (--verbose shows all)",
        "  ");
  }
}

std::vector<std::string> plan_row(const Page& page, const ChainInspection& chain, const CutterWork& work) {
  const JoinedCutter* cutter = cutter_of(chain, work.number);
  const bool nothing = work.take_mm && work.take_mm->value == 0;
  return {std::to_string(work.number),
          cutter != nullptr && cutter->hand ? word(*cutter->hand) : "-",
          word(work.action),
          nothing ? "0" : page.figure(work.take_mm, 2),
          work.strokes && !nothing ? band_text(*work.strokes) : "-",
          page.figure(work.length_after_mm, 2),
          page.figure(work.drop_after_mm, 2),
          page.figure(work.gauge_take_mm, 2)};
}

void put_plan(Page& page, const ChainInspection& chain) {
  if (chain.plan.work.empty()) return;
  page.line();
  page.line(page.bold("Filing plan, in the order of filing"));
  if (chain.plan.target_mm) {
    page.item("every cutter to " + with_u95(*chain.plan.target_mm, 2, "+-") + " mm; a stroke takes " +
                  with_u95(chain.plan.stock_per_stroke.mm, 3, "+-") + " mm (" + chain.plan.stock_per_stroke.source +
                  "): count strokes, then measure",
              "  ");
  }
  std::vector<std::vector<std::string>> rows{
      {"cutter", "hand", "do", "take mm", "strokes", "then long", "drop then", "off gauge"}};
  for (const int number : chain.plan.filing_order) {
    if (const CutterWork* work = work_of(chain, number)) rows.push_back(plan_row(page, chain, *work));
  }
  page.table(rows, 3);
  for (const CutterWork& work : chain.plan.work) {
    for (const std::string& note : work.notes) page.item(note, lead_of(work.number));
  }
  std::vector<std::string> notes = chain.plan.notes;
  notes.insert(notes.end(), chain.plan.not_planned.begin(), chain.plan.not_planned.end());
  if (chain.plan.left_less_right_mm) {
    notes.push_back("left-handers less right-handers now: " + with_u95(*chain.plan.left_less_right_mm, 2, "+-") +
                    " mm");
  }
  if (chain.plan.sharpenings_left) {
    notes.push_back("light sharpenings left after this: " + band_text(*chain.plan.sharpenings_left));
  }
  for (const std::string& note : notes) page.item(note);
}

void put_options(Page& page, const ChainInspection& chain) {
  std::vector<std::string> options;
  for (const PlanOption& option : chain.plan.options) {
    std::string text = option.what;
    if (option.saved_mm) text += "; saves " + with_u95(*option.saved_mm, 2, "+-") + " mm of every other cutter";
    if (option.sharpenings_left) text += "; sharpenings left then: " + band_text(*option.sharpenings_left);
    for (const std::string& but : option.but) text += "; but " + but;
    options.push_back(text);
  }
  page.section("Other ways", options);
}

void put_open(Page& page, const ChainInspection& chain) {
  std::vector<std::string> again;
  for (const Retake& retake : chain.retakes) {
    std::string text;
    if (retake.number) text.append("cutter ").append(std::to_string(*retake.number));
    if (retake.view) text.append(text.empty() ? "" : ", ").append(word(*retake.view));
    if (!retake.photo_path.empty()) {
      const std::string name = retake.photo_path.substr(retake.photo_path.find_last_of('/') + 1);
      text.append(text.empty() ? "(" : " (").append(name).append(")");
    }
    again.push_back(text.empty() ? retake.why : text + ": " + retake.why);
  }
  page.section("Photograph again", again);
  page.section("Photograph next", chain.verdict.look_next);
  page.section("What these photographs cannot claim", chain.verdict.cannot_claim);
  page.section("Noticed", chain.notes);
}

}  // namespace

std::string chain_text(const ChainInspection& chain, const TableStyle& style) {
  Page page(style);
  put_head(page, chain);
  put_worst(page, chain);
  put_plan(page, chain);
  put_options(page, chain);
  put_open(page, chain);
  page.line();
  page.item(kAdviceLine, "");
  return page.take();
}

std::string comparison_text(const Comparison& comparison, const TableStyle& style) {
  Page page(style);
  page.line(page.bold("Before and after"));
  for (const std::string& line : comparison.verdict) page.item(line);
  std::vector<std::vector<std::string>> rows{{"cutter", "hand", "filed off mm", "drop mm", "rounding um", "angle deg"}};
  const auto cell = [&](const ComparedCutter& c, const char* quantity, int decimals, bool angle) -> std::string {
    for (const Change& change : c.changes) {
      if (change.quantity != quantity) continue;
      if (!change.difference && change.after_most) {
        return "none over " + fixed(*change.after_most, 0) + (change.real ? "" : " ?");
      }
      if (!change.difference) continue;
      Quantity shown = angle ? in_degrees(*change.difference) : *change.difference;
      if (change.quantity == "length") shown.value = -shown.value;
      return page.figure(shown, decimals) + (change.real ? "" : " ?");
    }
    return "-";
  };
  for (const ComparedCutter& c : comparison.cutters) {
    rows.push_back({std::to_string(c.number), c.hand ? word(*c.hand) : "-", cell(c, "length", 2, false),
                    cell(c, "gauge drop", 2, false), cell(c, "edge radius", 0, false), cell(c, "edge angle", 1, true)});
  }
  page.line();
  page.table(rows, 2);
  page.item("? not beyond its uncertainty, so no difference is claimed", "  ");
  for (const ComparedCutter& c : comparison.cutters) {
    for (const std::string& finding : c.findings) page.item(finding, lead_of(c.number));
  }
  std::vector<std::string> balance;
  for (const Change& change : comparison.chain) {
    balance.push_back(change.text.starts_with(change.quantity) ? change.text : change.quantity + ": " + change.text);
  }
  page.section("The chain", balance);
  if (comparison.stock_per_stroke) {
    page.section("Learned", {"a stroke takes " + with_u95(comparison.stock_per_stroke->mm, 3, "+-") + " mm (" +
                             comparison.stock_per_stroke->source + ")"});
  }
  page.section("Not compared", comparison.not_compared);
  page.line();
  page.item(kAdviceLine, "");
  return page.take();
}

}  // namespace glintline
