// The report's chapters that give reasons: each cutter, before and after, what it all rests on.
#include <openssl/evp.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "base/text.h"
#include "report/report_view.h"
#include "report/words.h"

namespace glintline {
namespace {

std::string base64(const std::string& bytes) {
  std::string text(4 * ((bytes.size() + 2) / 3) + 1, '\0');
  const int length =
      EVP_EncodeBlock(reinterpret_cast<unsigned char*>(text.data()),
                      reinterpret_cast<const unsigned char*>(bytes.data()), static_cast<int>(bytes.size()));
  text.resize(static_cast<std::size_t>(length));
  return text;
}

ViewJson picture_views(const std::vector<ReportPicture>& pictures, int number) {
  ViewJson list = ViewJson::array();
  for (const ReportPicture& picture : pictures) {
    if (picture.number != number) continue;
    list.push_back({{"src", "data:image/jpeg;base64," + base64(picture.jpeg)},
                    {"caption", picture.caption},
                    {"width", picture.width_px},
                    {"height", picture.height_px}});
  }
  return list;
}

std::string mm(double value) { return fixed(value, 2) + " mm"; }
std::string um(double value) { return fixed(value, 0) + " µm"; }
std::string degrees(double value_rad) { return fixed(value_rad * 180 / M_PI, 1) + "°"; }

std::string gauge_limits(const Limits& limits) {
  const std::string setting = limits.growing_setting ? "grows as it shortens" : fixed(limits.gauge_setting_mm.value, 2);
  return "setting " + setting + ", most " + mm(limits.most_drop_mm.value);
}

/// A standing that asks for attention, in a word; within limits nothing is said.
std::string mark_of(const Verdict& verdict, const std::string& quantity) {
  for (const Finding& finding : verdict.findings) {
    if (finding.quantity != quantity) continue;
    if (finding.standing == Standing::kBeyond) return "beyond";
    if (finding.standing == Standing::kUndecided) return "too close to call";
  }
  return "";
}

/// Builds the rows of one cutter's values.
class ValueRows {
 public:
  explicit ValueRows(const Verdict& verdict) : verdict_(verdict) {}

  void add(const std::string& name, const std::optional<Quantity>& quantity, int decimals, const std::string& unit,
           const std::string& limit) {
    if (quantity) add_text(name, with_u95(*quantity, decimals, " ± ") + unit, limit);
  }
  void add_text(const std::string& name, const std::string& text, const std::string& limit) {
    rows_.push_back({{"name", name}, {"text", text}, {"limit", limit}, {"mark", mark_of(verdict_, name)}});
  }
  [[nodiscard]] ViewJson rows() const { return rows_; }

 private:
  const Verdict& verdict_;
  ViewJson rows_ = ViewJson::array();
};

std::optional<Quantity> degrees_of(const std::optional<Quantity>& angle_rad) {
  return angle_rad ? std::optional<Quantity>(in_degrees(*angle_rad)) : std::nullopt;
}

void add_edge_rows(ValueRows& rows, const CutterMeasurement& m, const Limits& limits) {
  const std::string edge_limits =
      "sharp to " + fixed(limits.sharp_radius_um.value, 0) + ", dull over " + um(limits.dull_radius_um.value);
  if (m.edge_radius_um) {
    rows.add("edge radius", m.edge_radius_um, 0, " µm", edge_limits);
  } else if (m.edge_radius_limit_um) {
    rows.add_text("edge radius", "none seen over " + um(*m.edge_radius_limit_um), edge_limits);
  }
  rows.add("roundest tenth over", m.edge_radius_p90_um, 0, " µm", "");
  const std::string chip_limit = "matter from " + mm(limits.chip_depth_mm.value);
  if (m.chips.empty() && m.chips_searched) rows.add_text("chips", "none found", chip_limit);
  if (m.chips.empty()) return;
  std::string text;
  for (const Chip& chip : m.chips) {
    const std::string where = chip.at_corner ? "the corner" : fixed(chip.at_mm, 1) + " mm";
    text += (text.empty() ? "" : "; ") + with_u95(chip.depth_mm, 2, " ± ") + " mm deep at " + where;
  }
  rows.add_text("chips", text, chip_limit);
}

/// True where more is missing at the working corner than measuring it leaves open.
bool corner_lost(const CutterMeasurement& m) {
  return m.corner_loss_mm && m.corner_loss_mm->value > kCoverage * m.corner_loss_mm->u();
}

ViewJson value_rows(const JoinedCutter& cutter, const Limits& limits) {
  const CutterMeasurement& m = cutter.measured;
  ValueRows rows(cutter.verdict);
  rows.add("gauge drop", m.gauge_drop_mm, 2, " mm", gauge_limits(limits));
  rows.add("length", m.length_mm, 2, " mm", "retired under " + mm(limits.retired_length_mm.value));
  if (corner_lost(m)) rows.add("lost at the corner", m.corner_loss_mm, 2, " mm", "");
  add_edge_rows(rows, m, limits);
  rows.add("edge angle", degrees_of(m.edge_angle_rad), 1, "°",
           degrees(limits.least_edge_angle_rad.value) + " to " + degrees(limits.most_edge_angle_rad.value));
  rows.add("top slope", degrees_of(m.top_slope_rad), 1, "°", "");
  rows.add("hook angle", degrees_of(m.hook_angle_rad), 1, "°",
           limits.least_hook_rad && limits.most_hook_rad
               ? degrees(limits.least_hook_rad->value) + " to " + degrees(limits.most_hook_rad->value)
               : "");
  return rows.rows();
}

std::string numbering_words(NumberedBy by) {
  switch (by) {
    case NumberedBy::kTag:
      return "";
    case NumberedBy::kFileName:
      return "numbered by the file's name";
    case NumberedBy::kList:
      return "numbered by the list";
    case NumberedBy::kOrder:
      return "numbered by the order of the photographs";
  }
  return "";
}

ViewJson remark_lines(const JoinedCutter& cutter) {
  ViewJson lines = ViewJson::array();
  for (const std::string& line : cutter.contradictions) lines.push_back("Contradiction: " + with_sign(line));
  for (const std::string& line : cutter.measured.missing) lines.push_back(with_sign(line));
  for (const ViewKind view : cutter.missing_views) {
    lines.push_back(std::string("No photograph ") + (view == ViewKind::kPlan ? "from above." : "from the side."));
  }
  for (const std::string& line : cutter.verdict.would_decide) lines.push_back("Would decide it: " + with_sign(line));
  return lines;
}

std::string place_line(const JoinedCutter& cutter) {
  const std::string by = numbering_words(cutter.numbered_by);
  return cutter.place + (cutter.place.empty() || by.empty() ? "" : ", ") + by;
}

/// The judge's reasons that ask for something; what is within its limits, or missing, stands in the table and below it.
ViewJson reason_lines(const JoinedCutter& cutter) {
  const auto is_within = [&](const std::string& line) {
    return std::any_of(cutter.verdict.findings.begin(), cutter.verdict.findings.end(), [&](const Finding& finding) {
      return finding.standing == Standing::kWithin && finding.text == line;
    });
  };
  const std::vector<std::string>& missing = cutter.measured.missing;
  const bool all_within = std::all_of(cutter.verdict.why.begin(), cutter.verdict.why.end(), is_within);
  ViewJson lines = ViewJson::array();
  for (const std::string& line : cutter.verdict.why) {
    if (is_within(line) && !(all_within && lines.empty())) continue;
    if (std::find(missing.begin(), missing.end(), line) == missing.end()) lines.push_back(with_sign(line));
  }
  return lines;
}

ViewJson cutter_view(const ReportContent& content, const JoinedCutter& cutter) {
  const ActionLook look = look_of(cutter.verdict.action);
  const std::string number = std::to_string(cutter.number);
  std::string more;
  for (const Action action : cutter.verdict.also) more += (more.empty() ? "" : ", ") + std::string(word(action));
  ViewJson edge = nullptr;
  if (!edge_chart_of(content.recorded.inspection, cutter).empty()) {
    edge = {{"id", "edge-" + number}, {"spoken", "Edge radius along the edge of cutter " + number}};
  }
  const ViewJson pictures = picture_views(content.pictures, cutter.number);
  return {{"number", number},
          {"look", look.look},
          {"sign", look.sign},
          {"action", word(cutter.verdict.action)},
          {"also", more},
          {"hand_word", cutter.hand ? std::string(word(*cutter.hand)) + " hand" : "hand not known"},
          {"place", place_line(cutter)},
          {"why", reason_lines(cutter)},
          {"pictures", pictures},
          {"with_pictures", !pictures.empty()},
          {"values", value_rows(cutter, content.recorded.inspection.limits)},
          {"edge", edge},
          {"remarks", remark_lines(cutter)}};
}

/// Decimals and unit of a change's values, by the quantity's name as compare gives it.
struct UnitText {
  int decimals;
  const char* unit;
  double factor;
};
UnitText unit_of(const std::string& quantity) {
  const auto holds = [&](const char* part) { return quantity.find(part) != std::string::npos; };
  if (holds("radius") || holds("rounding")) return {0, " µm", 1};
  if (holds("angle") || holds("slope")) return {1, "°", 180 / M_PI};
  return {2, " mm", 1};
}

std::string change_text(const std::string& quantity, const std::optional<Quantity>& value) {
  if (!value) return "–";
  const UnitText unit = unit_of(quantity);
  Quantity shown = *value;
  shown.value *= unit.factor;
  for (BudgetLine& line : shown.budget) line.u *= unit.factor;
  return with_u95(shown, unit.decimals, " ± ") + unit.unit;
}

/// The change's words; its quantity stands beside them already.
std::string without_name(const Change& change) {
  const std::string name = change.quantity + ": ";
  return change.text.starts_with(name) ? change.text.substr(name.size()) : change.text;
}

ViewJson pair_view(const std::string& who, const std::vector<Change>& changes,
                   const std::vector<std::string>& findings) {
  ViewJson rows = ViewJson::array();
  for (const Change& change : changes) {
    rows.push_back({{"first", rows.empty()},
                    {"span", changes.size()},
                    {"who", who},
                    {"quantity", change.quantity},
                    {"before", change_text(change.quantity, change.before)},
                    {"after", change_text(change.quantity, change.after)},
                    {"real", change.real},
                    {"text", with_sign(without_name(change))}});
  }
  std::string finding;
  for (const std::string& line : findings) finding += (finding.empty() ? "" : "; ") + with_sign(line);
  return {{"changes", rows}, {"finding", finding.empty() ? finding : who + ": " + finding}};
}

ViewJson lines_view(const std::vector<std::string>& lines) {
  ViewJson list = ViewJson::array();
  for (const std::string& line : lines) list.push_back(with_sign(line));
  return list;
}

std::string retake_text(const Retake& retake) {
  std::string text;
  if (retake.number) text += "Cutter " + std::to_string(*retake.number);
  if (retake.view)
    text += std::string(text.empty() ? "Once more " : ", ") +
            (*retake.view == ViewKind::kPlan ? "from above" : "from the side");
  text += (text.empty() ? "" : ": ") + with_sign(retake.why);
  if (!retake.photo_path.empty()) {
    text += " (" + std::filesystem::path(retake.photo_path).filename().string() + ")";
  }
  return text;
}

void add_limit(ViewJson& list, const std::string& name, const std::string& text, const std::string& source) {
  list.push_back({{"name", name}, {"text", text}, {"source", with_sign(source)}});
}

ViewJson limit_views(const Limits& limits) {
  ViewJson list = ViewJson::array();
  add_limit(list, "gauge setting",
            limits.growing_setting ? "grows as the cutter shortens" : mm(limits.gauge_setting_mm.value),
            limits.gauge_setting_mm.source);
  add_limit(list, "most drop", mm(limits.most_drop_mm.value), limits.most_drop_mm.source);
  if (limits.caution_drop_mm) {
    add_limit(list, "drop with caution over", mm(limits.caution_drop_mm->value), limits.caution_drop_mm->source);
  }
  add_limit(list, "sharp up to", um(limits.sharp_radius_um.value), limits.sharp_radius_um.source);
  add_limit(list, "dull over", um(limits.dull_radius_um.value), limits.dull_radius_um.source);
  add_limit(list, "chips filed out from", mm(limits.chip_depth_mm.value), limits.chip_depth_mm.source);
  add_limit(list, "retired under", mm(limits.retired_length_mm.value), limits.retired_length_mm.source);
  add_limit(list, "edge angle",
            degrees(limits.least_edge_angle_rad.value) + " to " + degrees(limits.most_edge_angle_rad.value),
            limits.least_edge_angle_rad.source);
  add_limit(list, "longest less shortest cutter",
            "warn " + mm(limits.length_spread_warn_mm.value) + ", act " + mm(limits.length_spread_act_mm.value),
            limits.length_spread_act_mm.source);
  return list;
}

ViewJson photo_views(const ChainInspection& inspection) {
  ViewJson list = ViewJson::array();
  for (const Inspection& photo : inspection.photos) {
    list.push_back({{"name", std::filesystem::path(photo.photo_path).filename().string()},
                    {"state", photo.refusal ? "not measured: " + photo.refusal->what : std::string(word(photo.view))},
                    {"sha", photo.photo_sha256}});
  }
  return list;
}

}  // namespace

const EdgeChart& edge_chart_of(const ChainInspection& inspection, const JoinedCutter& cutter) {
  static const EdgeChart kNone;
  if (!cutter.measured.edge_chart.empty()) return cutter.measured.edge_chart;
  for (const CutterSighting& sighting : cutter.sightings) {
    const EdgeChart& chart = inspection.photos.at(sighting.photo).cutters.at(sighting.cutter).measured.edge_chart;
    if (!chart.empty()) return chart;
  }
  return kNone;
}

ViewJson cutter_views(const ReportContent& content) {
  ViewJson list = ViewJson::array();
  for (const JoinedCutter& cutter : content.recorded.inspection.cutters) {
    list.push_back(cutter_view(content, cutter));
  }
  return list;
}

ViewJson comparison_view(const Comparison& comparison) {
  ViewJson pairs = ViewJson::array();
  if (!comparison.chain.empty()) pairs.push_back(pair_view("chain", comparison.chain, {}));
  for (const ComparedCutter& cutter : comparison.cutters) {
    pairs.push_back(pair_view("cutter " + std::to_string(cutter.number), cutter.changes, cutter.findings));
  }
  return {{"comparison_verdict", lines_view(comparison.verdict)},
          {"pairs", pairs},
          {"not_compared", lines_view(comparison.not_compared)}};
}

ViewJson ground_view(const ChainInspection& inspection) {
  ViewJson open = lines_view(inspection.verdict.cannot_claim);
  for (const std::string& line : inspection.verdict.look_next) open.push_back("Look next: " + with_sign(line));
  for (const std::string& line : inspection.notes) open.push_back(with_sign(line));
  open.push_back("Cracks, loose rivets and anything the photographs do not show.");
  ViewJson retakes = ViewJson::array();
  for (const Retake& retake : inspection.retakes) retakes.push_back(retake_text(retake));
  return {{"open", open},
          {"has_retakes", !retakes.empty()},
          {"retakes", retakes},
          {"limits", limit_views(inspection.limits)},
          {"photos", photo_views(inspection)}};
}

}  // namespace glintline
