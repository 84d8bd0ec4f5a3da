#include "report/csv.h"

#include <algorithm>
#include <cmath>

#include "base/text.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

using Row = std::vector<std::string>;

const Row kHead = {"photo",
                   "status",
                   "view",
                   "number",
                   "hand",
                   "verdict",
                   "also",
                   "gauge_drop_mm",
                   "gauge_drop_u95",
                   "length_mm",
                   "length_u95",
                   "edge_angle_deg",
                   "edge_angle_u95",
                   "top_slope_deg",
                   "top_slope_u95",
                   "hook_angle_deg",
                   "hook_angle_u95",
                   "edge_radius_um",
                   "edge_radius_u95",
                   "edge_radius_p90_um",
                   "edge_radius_p90_u95",
                   "edge_radius_limit_um",
                   "chips",
                   "deepest_chip_mm",
                   "deepest_chip_u95",
                   "why",
                   "file_sha256"};

std::string cell(const std::string& text) {
  if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
  std::string quoted(1, '"');
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  quoted += '"';
  return quoted;
}

std::string line_of(const Row& row) {
  std::string line;
  for (const std::string& text : row) {
    line += cell(text);
    line += ',';
  }
  line.back() = '\n';
  return line;
}

std::string number(double value, int decimals) { return std::isfinite(value) ? fixed(value, decimals) : ""; }

void add(Row& row, const std::optional<Quantity>& quantity, int decimals) {
  row.push_back(quantity ? number(quantity->value, decimals) : "");
  row.push_back(quantity ? number(kCoverage * quantity->u(), decimals) : "");
}

void add_angle(Row& row, const std::optional<Quantity>& angle_rad) {
  add(row, angle_rad ? std::optional(in_degrees(*angle_rad)) : std::nullopt, 3);
}

std::string joined(const std::vector<std::string>& parts) {
  std::string all;
  for (const std::string& part : parts) all += (all.empty() ? "" : "; ") + printable(part);
  return all;
}

void add_chips(Row& row, const CutterMeasurement& cutter) {
  row.push_back(cutter.chips_searched ? std::to_string(cutter.chips.size()) : "");
  const auto deepest = std::max_element(cutter.chips.begin(), cutter.chips.end(), [](const Chip& a, const Chip& b) {
    return a.depth_mm.value < b.depth_mm.value;
  });
  add(row, deepest == cutter.chips.end() ? std::nullopt : std::optional(deepest->depth_mm), 4);
}

Row photo_cells(const Inspection& inspection) {
  return {printable(inspection.photo_path), inspection.refusal ? "refused" : "measured",
          inspection.card ? word(inspection.view) : ""};
}

Row cutter_row(const Inspection& inspection, const InspectedCutter& cutter) {
  const CutterMeasurement& m = cutter.measured;
  Row row = photo_cells(inspection);
  row.push_back(m.number ? std::to_string(*m.number) : "");
  row.push_back(m.hand ? word(*m.hand) : "");
  row.push_back(verdict_word(cutter));
  std::vector<std::string> also;
  for (const Action action : cutter.verdict.also) also.emplace_back(word(action));
  row.push_back(joined(also));
  add(row, m.gauge_drop_mm, 4);
  add(row, m.length_mm, 4);
  add_angle(row, m.edge_angle_rad);
  add_angle(row, m.top_slope_rad);
  add_angle(row, m.hook_angle_rad);
  add(row, m.edge_radius_um, 2);
  add(row, m.edge_radius_p90_um, 2);
  row.push_back(m.edge_radius_limit_um ? number(*m.edge_radius_limit_um, 2) : "");
  add_chips(row, m);
  row.push_back(joined(reasons_of(cutter)));
  row.push_back(inspection.photo_sha256);
  return row;
}

Row photo_row(const Inspection& inspection) {
  Row row = photo_cells(inspection);
  row.resize(kHead.size());
  row[kHead.size() - 2] = inspection.refusal ? printable(inspection.refusal->what) : joined(inspection.notes);
  row[kHead.size() - 1] = inspection.photo_sha256;
  return row;
}

}  // namespace

std::string csv_text(const std::vector<Inspection>& inspections) {
  std::string text = line_of(kHead);
  for (const Inspection& inspection : inspections) {
    if (inspection.cutters.empty()) text += line_of(photo_row(inspection));
    for (const InspectedCutter& cutter : inspection.cutters) text += line_of(cutter_row(inspection, cutter));
  }
  return text;
}

}  // namespace glintline
