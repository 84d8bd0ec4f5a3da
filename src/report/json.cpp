#include "report/json.h"

#include <cmath>

#include "report/json_parts.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

constexpr int kPxDecimals = 3;

Json cutter_object(const InspectedCutter& cutter) {
  const CutterMeasurement& m = cutter.measured;
  Json object;
  object["number"] = number_json(m.number);
  object["hand"] = hand_json(m.hand);
  object["corner_px"] = {rounded_json(m.corner_px.x(), kPxDecimals), rounded_json(m.corner_px.y(), kPxDecimals)};
  object["over_field"] = m.over_field;
  add_values(object, m);
  object["verdict"] = verdict_word(cutter);
  object["also"] = Json::array();
  for (const Action action : cutter.verdict.also) object["also"].push_back(word(action));
  object["why"] = reasons_json(cutter.verdict, m);
  object["would_decide"] = texts_json(cutter.verdict.would_decide);
  return object;
}

Json scale_object(const Inspection& inspection) {
  if (!inspection.card) return nullptr;
  const CardPose& card = *inspection.card;
  constexpr double kDegrees = 180.0 / M_PI;
  Json scale;
  const bool has_card = card.saddles > 0;
  scale["from"] = has_card ? "card" : "pitch";
  scale["card"] = has_card ? Json(word(card.kind)) : Json(nullptr);
  // 0 stands for "never got as far as a cutter", and a scale of nothing would be a lie.
  scale["mm_per_px"] = inspection.mm_per_px > 0 ? rounded_json(inspection.mm_per_px, 6) : Json(nullptr);
  scale["tilt_deg"] = has_card ? rounded_json(card.tilt_rad * kDegrees, 2) : Json(nullptr);
  scale["rms_px"] = has_card ? rounded_json(card.rms_px, kPxDecimals) : Json(nullptr);
  scale["pitch_mm"] = quantity_json(inspection.pitch_mm, kMmDecimals);
  return scale;
}

Json photo_object(const Inspection& inspection) {
  Json object;
  object["photo"] = printable(inspection.photo_path);
  object["file_sha256"] = inspection.photo_sha256.empty() ? Json(nullptr) : Json(inspection.photo_sha256);
  object["program"] = "glintline " + inspection.program_version;
  object["view"] = inspection.card ? Json(word(inspection.view)) : Json(nullptr);
  object["status"] = inspection.refusal ? "refused" : "measured";
  object["reasons"] = Json::array();
  object["fault"] = nullptr;
  if (inspection.refusal) {
    object["reasons"].push_back(printable(inspection.refusal->what));
    object["fault"] = word(inspection.refusal->fault);
  }
  object["scale"] = scale_object(inspection);
  object["cutters"] = Json::array();
  for (const InspectedCutter& cutter : inspection.cutters) object["cutters"].push_back(cutter_object(cutter));
  object["notes"] = texts_json(inspection.notes);
  return object;
}

}  // namespace

std::string json_text(const std::vector<Inspection>& inspections) {
  Json list = Json::array();
  for (const Inspection& inspection : inspections) list.push_back(photo_object(inspection));
  return list.dump(2) + "\n";
}

}  // namespace glintline
