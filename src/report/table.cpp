#include "report/table.h"

#include <algorithm>
#include <array>
#include <functional>
#include <map>
#include <set>

#include "base/text.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

/// Reasons stand beside the row only where at least this many columns are left for them.
constexpr int kLeastReasonWidth = 34;
constexpr int kIndent = 6;

/// Spells one text for the terminal at hand.
class Speller {
 public:
  explicit Speller(const TableStyle& style) : style_(style) {}

  [[nodiscard]] std::string operator()(const std::string& text) const {
    return style_.unicode ? with_sign(printable(text)) : ascii(text);
  }

  [[nodiscard]] std::string figure(const std::optional<Quantity>& quantity, int decimals) const {
    return quantity ? with_u95(*quantity, decimals, style_.unicode ? "±" : "+-") : "";
  }

 private:
  TableStyle style_;
};

struct Column {
  std::string name;
  std::string unit;
  std::function<std::string(const InspectedCutter&)> cell;  ///< none: the cutter's label
  int width = 0;
  bool is_verdict = false;
};

std::string radius_cell(const CutterMeasurement& m, const Speller& spell) {
  if (m.edge_radius_um) return spell.figure(m.edge_radius_um, 0);
  return m.edge_radius_limit_um ? std::string("<") + fixed(*m.edge_radius_limit_um, 0) : std::string();
}

std::string chips_cell(const CutterMeasurement& m) {
  if (m.chips.empty()) return m.chips_searched ? "none" : "";
  double deepest = 0;
  for (const Chip& chip : m.chips) deepest = std::max(deepest, chip.depth_mm.value);
  return std::to_string(m.chips.size()) + ": " + fixed(deepest, 2);
}

std::vector<Column> all_columns(const Speller& spell) {
  using C = const InspectedCutter&;
  return {
      {"cutter", "", {}},
      {"hand", "", [](C c) { return std::string(c.measured.hand ? word(*c.measured.hand) : "-"); }},
      {"verdict", "", [](C c) { return verdict_word(c); }, 0, true},
      {"drop", "mm", [=](C c) { return spell.figure(c.measured.gauge_drop_mm, 2); }},
      {"length", "mm", [=](C c) { return spell.figure(c.measured.length_mm, 2); }},
      {"angle", spell("°"),
       [=](C c) {
         const auto& angle = c.measured.edge_angle_rad;
         return angle ? spell.figure(in_degrees(*angle), 1) : "";
       }},
      {"radius", spell("µm"), [=](C c) { return radius_cell(c.measured, spell); }},
      {"chips", "mm", [](C c) { return chips_cell(c.measured); }},
  };
}

std::string cell_of(const Column& column, const Inspection& inspection, const InspectedCutter& cutter) {
  return column.cell ? column.cell(cutter) : label_of(inspection, cutter);
}

/// The columns that hold something in this run, with their widths. Number, hand and verdict always stand.
std::vector<Column> used_columns(const std::vector<Inspection>& inspections, const Speller& spell) {
  constexpr std::size_t kAlways = 3;
  std::vector<Column> used;
  std::vector<Column> all = all_columns(spell);
  for (std::size_t i = 0; i < all.size(); ++i) {
    int widest = 0;
    for (const Inspection& inspection : inspections) {
      for (const InspectedCutter& cutter : inspection.cutters) {
        widest = std::max(widest, display_width(cell_of(all[i], inspection, cutter)));
      }
    }
    if (widest == 0 && i >= kAlways) continue;
    all[i].width = std::max({widest, display_width(all[i].name), display_width(all[i].unit)});
    used.push_back(all[i]);
  }
  return used;
}

/// With `gap` behind each column.
int total_width(const std::vector<Column>& columns, int gap) {
  int width = 0;
  for (const Column& column : columns) width += column.width + gap;
  return width;
}

/// Notes that more than one photograph has, with their number; they are told once.
std::map<std::string, int> shared_notes(const std::vector<Inspection>& inspections) {
  std::map<std::string, int> counts;
  for (const Inspection& inspection : inspections) {
    const std::set<std::string> own(inspection.notes.begin(), inspection.notes.end());
    for (const std::string& note : own) ++counts[note];
  }
  std::erase_if(counts, [](const auto& entry) { return entry.second < 2; });
  return counts;
}

std::string trimmed(std::string line) {
  line.erase(line.find_last_not_of(' ') + 1);
  return line;
}

std::string painted(const std::string& text, Action action, const TableStyle& style) {
  if (!style.colour) return text;
  static const std::map<Action, const char*> kInk = {
      {Action::kRetire, "\x1b[1;31m"}, {Action::kGaugeTooLow, "\x1b[1;31m"}, {Action::kUndecided, "\x1b[1;36m"},
      {Action::kFile, "\x1b[1;33m"},   {Action::kLowerGauge, "\x1b[1;33m"},  {Action::kTouchUp, "\x1b[1;33m"},
      {Action::kLeave, "\x1b[1;32m"}};
  return kInk.at(action) + text + "\x1b[0m";
}

std::vector<std::string> wrapped_to(const std::string& text, int width) {
  return wrapped(text, std::max(width, 20), [](const std::string& part) { return display_width(part); });
}

class Table {
 public:
  Table(const std::vector<Inspection>& inspections, const TableStyle& style)
      : inspections_(inspections),
        style_(style),
        spell_(style),
        columns_(used_columns(inspections, spell_)),
        shared_notes_(shared_notes(inspections)) {
    if (total_width(columns_, gap_) - gap_ > style_.width) gap_ = 1;
  }

  std::string text() {
    bool headed = false;
    for (const Inspection& inspection : inspections_) {
      if (!inspection.cutters.empty() && !headed) {
        head();
        headed = true;
      }
      photo(inspection);
    }
    summary();
    return out_;
  }

 private:
  [[nodiscard]] bool reasons_beside() const { return style_.width - total_width(columns_, gap_) >= kLeastReasonWidth; }
  [[nodiscard]] bool fits() const { return total_width(columns_, gap_) - gap_ <= style_.width; }

  void line(const std::string& text) { out_ += trimmed(text) + "\n"; }

  /// Wrapped; the lines after the first hang under the text of a "- " point.
  void paragraph(const std::string& text, int indent) {
    const int hang = text.rfind("- ", 0) == 0 ? 2 : 0;
    std::string lead(static_cast<std::size_t>(indent), ' ');
    for (const std::string& part : wrapped_to(text, style_.width - indent - hang)) {
      line(lead + part);
      lead.resize(static_cast<std::size_t>(indent + hang), ' ');
    }
  }

  void head() {
    if (!fits()) return;
    std::string names;
    std::string units;
    for (const Column& column : columns_) {
      names += padded(column.name, column.width + gap_);
      units += padded(column.unit, column.width + gap_);
    }
    line(names + (reasons_beside() ? "why" : ""));
    if (!trimmed(units).empty()) line(units);
    const int ruled = reasons_beside() ? style_.width : total_width(columns_, gap_) - gap_;
    line(std::string(static_cast<std::size_t>(ruled), '-'));
  }

  void photo(const Inspection& inspection) {
    const std::string name = spell_(inspection.photo_path);
    if (inspection.refusal) {
      line("not measured: " + name + ": " + spell_(inspection.refusal->what));
      return;
    }
    std::string about = name + "  (" + word(inspection.view);
    if (inspection.card) about += std::string(", ") + scale_words(*inspection.card);
    if (inspection.mm_per_px > 0) about += ", " + fixed(inspection.mm_per_px, 4) + " mm per pixel";
    if (inspection.pitch_mm) about += ", pitch " + spell_.figure(inspection.pitch_mm, 2) + " mm";
    line(about + ")");
    for (const InspectedCutter& cutter : inspection.cutters) row(inspection, cutter);
    for (const std::string& note : inspection.notes) {
      if (shared_notes_.count(note) == 0) paragraph("note: " + spell_(note), 2);
    }
  }

  std::vector<std::string> reasons_for(const InspectedCutter& cutter) {
    const std::vector<std::string> all = reasons_of(cutter);
    const std::vector<std::string> chosen = style_.all_reasons ? all : main_reasons_of(cutter);
    some_left_out_ = some_left_out_ || chosen.size() < all.size();
    std::vector<std::string> reasons;
    for (const std::string& reason : chosen) reasons.push_back(spell_(reason));
    return reasons;
  }

  void row(const Inspection& inspection, const InspectedCutter& cutter) {
    const std::vector<std::string> reasons = reasons_for(cutter);
    if (!fits()) return stacked(inspection, cutter, reasons);
    std::string cells;
    for (const Column& column : columns_) {
      const std::string cell = padded(cell_of(column, inspection, cutter), column.width);
      cells += column.is_verdict ? painted(cell, cutter.verdict.action, style_) : cell;
      cells.append(static_cast<std::size_t>(gap_), ' ');
    }
    if (!reasons_beside()) {
      line(cells);
      for (const std::string& reason : reasons) paragraph("- " + reason, kIndent);
      return;
    }
    beside(cells, reasons);
  }

  void beside(const std::string& cells, const std::vector<std::string>& reasons) {
    const int left = total_width(columns_, gap_);
    std::string lead = cells;
    for (const std::string& reason : reasons) {
      for (const std::string& part : wrapped_to(reason, style_.width - left)) {
        line(lead + part);
        lead = std::string(static_cast<std::size_t>(left), ' ');
      }
    }
    if (reasons.empty()) line(cells);
  }

  /// For terminals narrower than the columns: each value after its name.
  void stacked(const Inspection& inspection, const InspectedCutter& cutter, const std::vector<std::string>& reasons) {
    std::string values;
    for (const Column& column : columns_) {
      const std::string cell = cell_of(column, inspection, cutter);
      if (cell.empty()) continue;
      values += (values.empty() ? "" : ", ") + column.name + " " + cell;
      if (!column.unit.empty() && cell != "none") values += " " + column.unit;
    }
    paragraph(values, 0);
    for (const std::string& reason : reasons) paragraph("- " + reason, 2);
  }

  void summary() {
    std::map<std::string, int> decisions;
    int cutters = 0;
    int refused = 0;
    for (const Inspection& inspection : inspections_) {
      refused += inspection.refusal ? 1 : 0;
      for (const InspectedCutter& cutter : inspection.cutters) {
        ++decisions[verdict_word(cutter)];
        ++cutters;
      }
    }
    std::string text =
        counted(cutters, "cutter") + " in " + counted(static_cast<int>(inspections_.size()), "photograph");
    if (cutters > 0) text += ": " + in_order(decisions);
    if (refused > 0) text += "; " + counted(refused, "photograph") + " not measured";
    out_ += "\n";
    for (const auto& [note, count] : shared_notes_) {
      paragraph("Note on " + std::to_string(count) + " photographs: " + spell_(note) + ".", 0);
    }
    paragraph(text + ".", 0);
    if (some_left_out_) paragraph("Every reason: glintline -v, or the JSON and CSV outputs.", 0);
    if (cutters > 0) paragraph(kAdviceLine, 0);
  }

  /// "1 gauge too low, 2 leave", most urgent first.
  static std::string in_order(std::map<std::string, int> decisions) {
    static constexpr std::array kOrder = {Action::kRetire,     Action::kGaugeTooLow, Action::kUndecided, Action::kFile,
                                          Action::kLowerGauge, Action::kTouchUp,     Action::kLeave};
    std::string text;
    const auto add = [&](const std::string& name) {
      if (decisions[name] > 0) text += (text.empty() ? "" : ", ") + std::to_string(decisions[name]) + " " + name;
    };
    for (const Action action : kOrder) add(word(action));
    add("not measured");
    return text;
  }

  const std::vector<Inspection>& inspections_;
  TableStyle style_;
  Speller spell_;
  std::vector<Column> columns_;
  std::map<std::string, int> shared_notes_;
  int gap_ = 2;
  bool some_left_out_ = false;
  std::string out_;
};

}  // namespace

std::string table_text(const std::vector<Inspection>& inspections, const TableStyle& style) {
  return Table(inspections, style).text();
}

}  // namespace glintline
