#include "report/json_parts.h"

#include <algorithm>
#include <cmath>

#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

Json chips_of(const CutterMeasurement& cutter) {
  Json list = Json::array();
  for (const Chip& chip : cutter.chips) {
    list.push_back({{"at_mm", rounded_json(chip.at_mm, kMmDecimals)},
                    {"depth_mm", quantity_json(chip.depth_mm)},
                    {"width_mm", quantity_json(chip.width_mm)},
                    {"area_mm2", quantity_json(chip.area_mm2)},
                    {"at_corner", chip.at_corner}});
  }
  return list;
}

}  // namespace

Json rounded_json(double value, int decimals) {
  if (!std::isfinite(value)) return nullptr;
  const double unit = std::pow(10.0, decimals);
  return std::round(value * unit) / unit + 0.0;  // + 0.0 makes -0 a plain 0
}

Json quantity_json(const std::optional<Quantity>& known, int decimals) {
  if (!known || !std::isfinite(known->value) || !std::isfinite(known->u())) return nullptr;
  return {{"value", rounded_json(known->value, decimals)}, {"u95", rounded_json(kCoverage * known->u(), decimals)}};
}

Json angle_json(const std::optional<Quantity>& known_rad) {
  return known_rad ? quantity_json(in_degrees(*known_rad), kDegDecimals) : Json(nullptr);
}

Json number_json(const std::optional<int>& known) { return known ? Json(*known) : Json(nullptr); }

Json hand_json(const std::optional<Hand>& known) { return known ? Json(word(*known)) : Json(nullptr); }

Json texts_json(const std::vector<std::string>& lines) {
  Json list = Json::array();
  for (const std::string& line : lines) list.push_back(printable(line));
  return list;
}

void add_values(Json& object, const CutterMeasurement& m) {
  object["length_mm"] = quantity_json(m.length_mm);
  object["corner_loss_mm"] = quantity_json(m.corner_loss_mm);
  object["gauge_drop_mm"] = quantity_json(m.gauge_drop_mm);
  object["edge_angle_deg"] = angle_json(m.edge_angle_rad);
  object["top_slope_deg"] = angle_json(m.top_slope_rad);
  object["hook_angle_deg"] = angle_json(m.hook_angle_rad);
  object["corner_rounding_um"] = quantity_json(m.corner_rounding_um, kUmDecimals);
  object["edge_radius_um"] = quantity_json(m.edge_radius_um, kUmDecimals);
  object["edge_radius_p90_um"] = quantity_json(m.edge_radius_p90_um, kUmDecimals);
  object["edge_radius_limit_um"] =
      m.edge_radius_limit_um ? rounded_json(*m.edge_radius_limit_um, kUmDecimals) : Json(nullptr);
  object["chips"] = chips_of(m);
  object["chips_searched"] = m.chips_searched;
}

Json reasons_json(const Verdict& verdict, const CutterMeasurement& cutter) {
  Json lines = texts_json(verdict.why);
  for (const std::string& missing : cutter.missing) {
    const Json line = printable(missing);
    if (std::find(lines.begin(), lines.end(), line) == lines.end()) lines.push_back(line);
  }
  return lines;
}

}  // namespace glintline
