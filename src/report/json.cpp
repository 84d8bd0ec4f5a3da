#include "report/json.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

using Json = nlohmann::ordered_json;

constexpr int kMmDecimals = 4;
constexpr int kDegDecimals = 3;
constexpr int kUmDecimals = 2;
constexpr int kPxDecimals = 3;

Json rounded(double value, int decimals) {
  if (!std::isfinite(value)) return nullptr;
  const double unit = std::pow(10.0, decimals);
  return std::round(value * unit) / unit + 0.0;  // + 0.0 makes -0 a plain 0
}

Json quantity(const std::optional<Quantity>& known, int decimals) {
  if (!known || !std::isfinite(known->value) || !std::isfinite(known->u())) return nullptr;
  return {{"value", rounded(known->value, decimals)}, {"u95", rounded(kCoverage * known->u(), decimals)}};
}

Json angle(const std::optional<Quantity>& known_rad) {
  return known_rad ? quantity(in_degrees(*known_rad), kDegDecimals) : Json(nullptr);
}

Json texts(const std::vector<std::string>& lines) {
  Json list = Json::array();
  for (const std::string& line : lines) list.push_back(printable(line));
  return list;
}

Json chips_of(const CutterMeasurement& cutter) {
  Json list = Json::array();
  for (const Chip& chip : cutter.chips) {
    list.push_back({{"at_mm", rounded(chip.at_mm, kMmDecimals)},
                    {"depth_mm", quantity(chip.depth_mm, kMmDecimals)},
                    {"width_mm", quantity(chip.width_mm, kMmDecimals)},
                    {"area_mm2", quantity(chip.area_mm2, kMmDecimals)}});
  }
  return list;
}

Json cutter_object(const InspectedCutter& cutter) {
  const CutterMeasurement& m = cutter.measured;
  Json object;
  object["number"] = m.number ? Json(*m.number) : Json(nullptr);
  object["hand"] = m.hand ? Json(word(*m.hand)) : Json(nullptr);
  object["corner_px"] = {rounded(m.corner_px.x(), kPxDecimals), rounded(m.corner_px.y(), kPxDecimals)};
  object["over_field"] = m.over_field;
  object["length_mm"] = quantity(m.length_mm, kMmDecimals);
  object["gauge_drop_mm"] = quantity(m.gauge_drop_mm, kMmDecimals);
  object["edge_angle_deg"] = angle(m.edge_angle_rad);
  object["top_slope_deg"] = angle(m.top_slope_rad);
  object["hook_angle_deg"] = angle(m.hook_angle_rad);
  object["corner_rounding_um"] = quantity(m.corner_rounding_um, kUmDecimals);
  object["edge_radius_um"] = quantity(m.edge_radius_um, kUmDecimals);
  object["edge_radius_p90_um"] = quantity(m.edge_radius_p90_um, kUmDecimals);
  object["edge_radius_limit_um"] =
      m.edge_radius_limit_um ? rounded(*m.edge_radius_limit_um, kUmDecimals) : Json(nullptr);
  object["chips"] = chips_of(m);
  object["chips_searched"] = m.chips_searched;
  object["verdict"] = verdict_word(cutter);
  object["also"] = Json::array();
  for (const Action action : cutter.verdict.also) object["also"].push_back(word(action));
  object["why"] = texts(cutter.verdict.why);
  for (const std::string& missing : m.missing) {
    const Json line = printable(missing);
    if (std::find(object["why"].begin(), object["why"].end(), line) == object["why"].end()) {
      object["why"].push_back(line);
    }
  }
  object["would_decide"] = texts(cutter.verdict.would_decide);
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
  scale["mm_per_px"] = inspection.mm_per_px > 0 ? rounded(inspection.mm_per_px, 6) : Json(nullptr);
  scale["tilt_deg"] = has_card ? rounded(card.tilt_rad * kDegrees, 2) : Json(nullptr);
  scale["rms_px"] = has_card ? rounded(card.rms_px, kPxDecimals) : Json(nullptr);
  scale["pitch_mm"] = quantity(inspection.pitch_mm, kMmDecimals);
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
  object["notes"] = texts(inspection.notes);
  return object;
}

}  // namespace

std::string json_text(const std::vector<Inspection>& inspections) {
  Json list = Json::array();
  for (const Inspection& inspection : inspections) list.push_back(photo_object(inspection));
  return list.dump(2) + "\n";
}

}  // namespace glintline
