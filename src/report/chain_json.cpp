#include <cmath>

#include "base/text.h"
#include "report/chain_text.h"
#include "report/json.h"
#include "report/json_parts.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {

namespace {

Json band(const std::optional<CountBand>& b) {
  if (!b) return nullptr;
  return {{"least", rounded_json(b->least, 1)}, {"likely", rounded_json(b->likely, 1)}, {"most", rounded_json(b->most, 1)}};
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
  Json object;
  object["number"] = c.number;
  object["numbered_by"] = numbered_by(c.numbered_by);
  object["hand"] = hand_json(c.hand);
  object["place"] = c.place;
  object["photos"] = Json::array();
  for (const CutterSighting& at : c.sightings) object["photos"].push_back(printable(chain.photos[at.photo].photo_path));
  add_values(object, c.measured);
  object["verdict"] = word(c.verdict.action);
  object["also"] = Json::array();
  for (const Action action : c.verdict.also) object["also"].push_back(word(action));
  object["why"] = reasons_json(c.verdict, c.measured);
  object["would_decide"] = texts_json(c.verdict.would_decide);
  object["contradictions"] = texts_json(c.contradictions);
  object["missing_views"] = Json::array();
  for (const ViewKind view : c.missing_views) object["missing_views"].push_back(word(view));
  return object;
}

Json plan_object(const FilingPlan& plan) {
  Json object;
  object["target_mm"] = quantity_json(plan.target_mm);
  object["decided_by"] = number_json(plan.decided_by);
  object["mm_per_stroke"] = quantity_json(plan.stock_per_stroke.mm);
  object["mm_per_stroke_source"] = plan.stock_per_stroke.source;
  object["filing_order"] = plan.filing_order;
  object["work"] = Json::array();
  for (const CutterWork& w : plan.work) {
    object["work"].push_back({{"number", w.number},
                              {"do", word(w.action)},
                              {"take_mm", quantity_json(w.take_mm)},
                              {"strokes", band(w.strokes)},
                              {"length_after_mm", quantity_json(w.length_after_mm)},
                              {"drop_after_mm", quantity_json(w.drop_after_mm)},
                              {"gauge_take_mm", quantity_json(w.gauge_take_mm)},
                              {"notes", texts_json(w.notes)}});
  }
  object["left_less_right_mm"] = quantity_json(plan.left_less_right_mm);
  object["sharpenings_left"] = band(plan.sharpenings_left);
  object["options"] = Json::array();
  for (const PlanOption& o : plan.options) {
    object["options"].push_back({{"what", printable(o.what)},
                                 {"left_out", o.left_out},
                                 {"target_mm", quantity_json(o.target_mm)},
                                 {"saved_mm", quantity_json(o.saved_mm)},
                                 {"sharpenings_left", band(o.sharpenings_left)},
                                 {"but", texts_json(o.but)}});
  }
  object["not_planned"] = texts_json(plan.not_planned);
  object["notes"] = texts_json(plan.notes);
  return object;
}

const char* word_of(EdgeAfter edge) {
  switch (edge) {
    case EdgeAfter::kClean:
      return "clean";
    case EdgeAfter::kDamaged:
      return "damaged";
    case EdgeAfter::kNotKnown:
      break;
  }
  return "not known";
}

Json chips_object(const std::vector<ComparedChip>& chips) {
  Json list = Json::array();
  for (const ComparedChip& chip : chips) {
    list.push_back({{"at_mm", rounded_json(chip.at_mm, kMmDecimals)},
                    {"before_mm", quantity_json(chip.before_mm)},
                    {"after_mm", quantity_json(chip.after_mm)}});
  }
  return list;
}

Json change_object(const Change& c) {
  const bool is_angle = c.quantity == "edge angle";
  const auto value = [&](const std::optional<Quantity>& q) { return is_angle ? angle_json(q) : quantity_json(q); };
  return {{"quantity", c.quantity},
          {"unit", is_angle                      ? "deg"
                   : c.quantity == "edge radius" ? "um"
                                                 : "mm"},
          {"before", value(c.before)},
          {"after", value(c.after)},
          {"difference", value(c.difference)},
          {"before_most", c.before_most ? rounded_json(*c.before_most, kUmDecimals) : Json(nullptr)},
          {"after_most", c.after_most ? rounded_json(*c.after_most, kUmDecimals) : Json(nullptr)},
          {"real", c.real},
          {"text", printable(c.text)}};
}

}  // namespace

std::string chain_json(const ChainInspection& chain) {
  Json object;
  object["chain"] = printable(chain.sheet.name);
  object["verdict"] = word(chain.verdict.action);
  object["why"] = texts_json(chain.verdict.why);
  object["cannot_claim"] = texts_json(chain.verdict.cannot_claim);
  object["look_next"] = texts_json(chain.verdict.look_next);
  object["expected_cutters"] = number_json(chain.expected_cutters);
  object["counting"] = chain.counting == Counting::kBehind ? "behind" : "ahead";
  object["cutters"] = Json::array();
  for (const JoinedCutter& c : chain.cutters) object["cutters"].push_back(cutter_object(chain, c));
  object["plan"] = plan_object(chain.plan);
  object["retakes"] = Json::array();
  for (const Retake& r : chain.retakes) {
    object["retakes"].push_back({{"number", number_json(r.number)},
                                 {"view", r.view ? Json(word(*r.view)) : Json(nullptr)},
                                 {"photo", printable(r.photo_path)},
                                 {"why", printable(r.why)}});
  }
  object["notes"] = texts_json(chain.notes);
  object["photos"] = Json::parse(json_text(chain.photos));
  return object.dump(2) + "\n";
}

std::string comparison_json(const Comparison& comparison) {
  Json object;
  object["verdict"] = texts_json(comparison.verdict);
  object["cutters"] = Json::array();
  for (const ComparedCutter& c : comparison.cutters) {
    Json changes = Json::array();
    for (const Change& change : c.changes) changes.push_back(change_object(change));
    object["cutters"].push_back({{"number", c.number},
                                 {"hand", hand_json(c.hand)},
                                 {"changes", changes},
                                 {"findings", texts_json(c.findings)},
                                 {"chips", chips_object(c.chips)},
                                 {"edge_after", word_of(c.edge)}});
  }
  object["chain"] = Json::array();
  for (const Change& change : comparison.chain) object["chain"].push_back(change_object(change));
  object["mm_per_stroke"] = comparison.stock_per_stroke ? quantity_json(comparison.stock_per_stroke->mm) : Json(nullptr);
  object["not_compared"] = texts_json(comparison.not_compared);
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
