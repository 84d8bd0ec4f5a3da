#include <cmath>
#include <nlohmann/json.hpp>

#include "base/text.h"
#include "report/chain_text.h"
#include "report/json.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {

namespace {

using Json = nlohmann::ordered_json;

constexpr int kMmDecimals = 4;
constexpr int kDegDecimals = 3;
constexpr int kUmDecimals = 2;

Json rounded(double value, int decimals) {
  if (!std::isfinite(value)) return nullptr;
  const double unit = std::pow(10.0, decimals);
  return std::round(value * unit) / unit + 0.0;
}

Json quantity(const std::optional<Quantity>& q, int decimals = kMmDecimals) {
  if (!q || !std::isfinite(q->value) || !std::isfinite(q->u())) return nullptr;
  return {{"value", rounded(q->value, decimals)}, {"u95", rounded(kCoverage * q->u(), decimals)}};
}

Json angle(const std::optional<Quantity>& q) { return q ? quantity(in_degrees(*q), kDegDecimals) : Json(nullptr); }

Json band(const std::optional<CountBand>& b) {
  if (!b) return nullptr;
  return {{"least", rounded(b->least, 1)}, {"likely", rounded(b->likely, 1)}, {"most", rounded(b->most, 1)}};
}

Json texts(const std::vector<std::string>& lines) {
  Json list = Json::array();
  for (const std::string& line : lines) list.push_back(printable(line));
  return list;
}

const char* numbered_by(NumberedBy by) {
  switch (by) {
    case NumberedBy::kTag:
      return "tag";
    case NumberedBy::kFileName:
      return "file name";
    case NumberedBy::kList:
      return "list";
    case NumberedBy::kOrder:
      break;
  }
  return "order";
}

Json cutter_object(const ChainInspection& chain, const JoinedCutter& c) {
  const CutterMeasurement& m = c.measured;
  Json object;
  object["number"] = c.number;
  object["numbered_by"] = numbered_by(c.numbered_by);
  object["hand"] = c.hand ? Json(word(*c.hand)) : Json(nullptr);
  object["place"] = c.place;
  object["photos"] = Json::array();
  for (const CutterSighting& at : c.sightings) object["photos"].push_back(printable(chain.photos[at.photo].photo_path));
  object["length_mm"] = quantity(m.length_mm);
  object["gauge_drop_mm"] = quantity(m.gauge_drop_mm);
  object["edge_angle_deg"] = angle(m.edge_angle_rad);
  object["top_slope_deg"] = angle(m.top_slope_rad);
  object["edge_radius_um"] = quantity(m.edge_radius_um, kUmDecimals);
  object["edge_radius_p90_um"] = quantity(m.edge_radius_p90_um, kUmDecimals);
  object["edge_radius_limit_um"] =
      m.edge_radius_limit_um ? rounded(*m.edge_radius_limit_um, kUmDecimals) : Json(nullptr);
  object["chips"] = Json::array();
  for (const Chip& chip : m.chips) {
    object["chips"].push_back({{"at_mm", rounded(chip.at_mm, kMmDecimals)}, {"depth_mm", quantity(chip.depth_mm)}});
  }
  object["chips_searched"] = m.chips_searched;
  object["verdict"] = word(c.verdict.action);
  object["why"] = texts(c.verdict.why);
  object["contradictions"] = texts(c.contradictions);
  object["missing_views"] = Json::array();
  for (const ViewKind view : c.missing_views) object["missing_views"].push_back(word(view));
  return object;
}

Json plan_object(const FilingPlan& plan) {
  Json object;
  object["target_mm"] = quantity(plan.target_mm);
  object["decided_by"] = plan.decided_by ? Json(*plan.decided_by) : Json(nullptr);
  object["mm_per_stroke"] = quantity(plan.stock_per_stroke.mm);
  object["mm_per_stroke_source"] = plan.stock_per_stroke.source;
  object["filing_order"] = plan.filing_order;
  object["work"] = Json::array();
  for (const CutterWork& w : plan.work) {
    object["work"].push_back({{"number", w.number},
                              {"do", word(w.action)},
                              {"take_mm", quantity(w.take_mm)},
                              {"strokes", band(w.strokes)},
                              {"length_after_mm", quantity(w.length_after_mm)},
                              {"drop_after_mm", quantity(w.drop_after_mm)},
                              {"gauge_take_mm", quantity(w.gauge_take_mm)},
                              {"notes", texts(w.notes)}});
  }
  object["left_less_right_mm"] = quantity(plan.left_less_right_mm);
  object["sharpenings_left"] = band(plan.sharpenings_left);
  object["options"] = Json::array();
  for (const PlanOption& o : plan.options) {
    object["options"].push_back({{"what", printable(o.what)},
                                 {"left_out", o.left_out},
                                 {"target_mm", quantity(o.target_mm)},
                                 {"saved_mm", quantity(o.saved_mm)},
                                 {"sharpenings_left", band(o.sharpenings_left)},
                                 {"but", texts(o.but)}});
  }
  object["not_planned"] = texts(plan.not_planned);
  object["notes"] = texts(plan.notes);
  return object;
}

Json change_object(const Change& c) {
  const bool is_angle = c.quantity == "edge angle";
  const auto value = [&](const std::optional<Quantity>& q) { return is_angle ? angle(q) : quantity(q); };
  return {{"quantity", c.quantity},
          {"unit", is_angle                      ? "deg"
                   : c.quantity == "edge radius" ? "um"
                                                 : "mm"},
          {"before", value(c.before)},
          {"after", value(c.after)},
          {"difference", value(c.difference)},
          {"real", c.real},
          {"text", printable(c.text)}};
}

}  // namespace

std::string chain_json(const ChainInspection& chain) {
  Json object;
  object["chain"] = printable(chain.sheet.name);
  object["verdict"] = word(chain.verdict.action);
  object["why"] = texts(chain.verdict.why);
  object["cannot_claim"] = texts(chain.verdict.cannot_claim);
  object["look_next"] = texts(chain.verdict.look_next);
  object["expected_cutters"] = chain.expected_cutters ? Json(*chain.expected_cutters) : Json(nullptr);
  object["counting"] = chain.counting == Counting::kBehind ? "behind" : "ahead";
  object["cutters"] = Json::array();
  for (const JoinedCutter& c : chain.cutters) object["cutters"].push_back(cutter_object(chain, c));
  object["plan"] = plan_object(chain.plan);
  object["retakes"] = Json::array();
  for (const Retake& r : chain.retakes) {
    object["retakes"].push_back({{"number", r.number ? Json(*r.number) : Json(nullptr)},
                                 {"view", r.view ? Json(word(*r.view)) : Json(nullptr)},
                                 {"photo", printable(r.photo_path)},
                                 {"why", printable(r.why)}});
  }
  object["notes"] = texts(chain.notes);
  object["photos"] = Json::parse(json_text(chain.photos));
  return object.dump(2) + "\n";
}

std::string comparison_json(const Comparison& comparison) {
  Json object;
  object["verdict"] = texts(comparison.verdict);
  object["cutters"] = Json::array();
  for (const ComparedCutter& c : comparison.cutters) {
    Json changes = Json::array();
    for (const Change& change : c.changes) changes.push_back(change_object(change));
    object["cutters"].push_back({{"number", c.number},
                                 {"hand", c.hand ? Json(word(*c.hand)) : Json(nullptr)},
                                 {"changes", changes},
                                 {"findings", texts(c.findings)},
                                 {"damage_left", c.damage_left}});
  }
  object["chain"] = Json::array();
  for (const Change& change : comparison.chain) object["chain"].push_back(change_object(change));
  object["mm_per_stroke"] = comparison.stock_per_stroke ? quantity(comparison.stock_per_stroke->mm) : Json(nullptr);
  object["not_compared"] = texts(comparison.not_compared);
  return object.dump(2) + "\n";
}

std::string chain_csv(const ChainInspection& chain) {
  std::string text =
      "number,hand,place,verdict,length_mm,length_u95,gauge_drop_mm,gauge_drop_u95,edge_radius_um,edge_radius_u95,"
      "chips,do,take_mm,take_u95,strokes,strokes_least,strokes_most,length_after_mm,drop_after_mm,gauge_take_mm\n";
  const auto value = [](const std::optional<Quantity>& q, int decimals) {
    return q && std::isfinite(q->value) ? fixed(q->value, decimals) : std::string();
  };
  const auto u95 = [](const std::optional<Quantity>& q, int decimals) {
    return q && std::isfinite(q->u()) ? fixed(kCoverage * q->u(), decimals) : std::string();
  };
  for (const JoinedCutter& c : chain.cutters) {
    const CutterMeasurement& m = c.measured;
    CutterWork work;
    for (const CutterWork& w : chain.plan.work) {
      if (w.number == c.number) work = w;
    }
    const std::vector<std::string> row{std::to_string(c.number),
                                       c.hand ? word(*c.hand) : "",
                                       c.place,
                                       word(c.verdict.action),
                                       value(m.length_mm, 4),
                                       u95(m.length_mm, 4),
                                       value(m.gauge_drop_mm, 4),
                                       u95(m.gauge_drop_mm, 4),
                                       value(m.edge_radius_um, 2),
                                       u95(m.edge_radius_um, 2),
                                       m.chips_searched ? std::to_string(m.chips.size()) : "",
                                       word(work.action),
                                       value(work.take_mm, 4),
                                       u95(work.take_mm, 4),
                                       work.strokes ? fixed(work.strokes->likely, 1) : "",
                                       work.strokes ? fixed(work.strokes->least, 1) : "",
                                       work.strokes ? fixed(work.strokes->most, 1) : "",
                                       value(work.length_after_mm, 4),
                                       value(work.drop_after_mm, 4),
                                       value(work.gauge_take_mm, 4)};
    for (std::size_t i = 0; i < row.size(); ++i) text += (i == 0 ? "" : ",") + row[i];
    text += "\n";
  }
  return text;
}

}  // namespace glintline
