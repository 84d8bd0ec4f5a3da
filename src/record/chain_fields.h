#pragma once

#include "model/chain_event.h"
#include "model/recorded_inspection.h"
#include "record/fields.h"

// Names as in record/fields.h, of a whole chain's inspection and of events.

namespace glintline {

[[nodiscard]] inline std::span<const EnumName<Sequence>> names_of(Sequence) {
  static constexpr std::array<EnumName<Sequence>, 3> kNames{
      {{Sequence::kFull, "full"}, {Sequence::kSemiSkip, "semi_skip"}, {Sequence::kFullSkip, "full_skip"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Counting>> names_of(Counting) {
  static constexpr std::array<EnumName<Counting>, 2> kNames{
      {{Counting::kBehind, "behind"}, {Counting::kAhead, "ahead"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Wood>> names_of(Wood) {
  static constexpr std::array<EnumName<Wood>, 2> kNames{
      {{Wood::kHardOrFrozen, "hard_or_frozen"}, {Wood::kSoftUnfrozen, "soft_unfrozen"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<NumberedBy>> names_of(NumberedBy) {
  static constexpr std::array<EnumName<NumberedBy>, 4> kNames{{{NumberedBy::kTag, "tag"},
                                                               {NumberedBy::kFileName, "file_name"},
                                                               {NumberedBy::kList, "list"},
                                                               {NumberedBy::kOrder, "order"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<ChainAction>> names_of(ChainAction) {
  static constexpr std::array<EnumName<ChainAction>, 5> kNames{{{ChainAction::kRetire, "retire"},
                                                                {ChainAction::kOutOfUse, "out_of_use"},
                                                                {ChainAction::kFile, "file"},
                                                                {ChainAction::kUse, "use"},
                                                                {ChainAction::kUndecided, "undecided"}}};
  return kNames;
}

void each_field(auto&& field, like<Limit> auto& limit) {
  auto& [value, source] = limit;
  field("value", value, "source", source);
}

void each_field(auto&& field, like<GrowingSetting> auto& setting) {
  auto& [new_mm, worn_mm, new_length_mm, worn_length_mm] = setting;
  field("new_mm", new_mm, "worn_mm", worn_mm, "new_length_mm", new_length_mm, "worn_length_mm", worn_length_mm);
}

void each_field(auto&& field, like<Limits> auto& limits) {
  auto& [gauge_setting_mm, growing_setting, gauge_tolerance_mm, most_drop_mm, caution_drop_mm, sharp_radius_um,
         dull_radius_um, chip_depth_mm, retired_length_mm, least_edge_angle_rad, most_edge_angle_rad, filing_angle_rad,
         least_hook_rad, most_hook_rad, length_spread_warn_mm, length_spread_act_mm, left_right_warn_rad,
         left_right_act_rad] = limits;
  field("gauge_setting_mm", gauge_setting_mm, "growing_setting", growing_setting, "gauge_tolerance_mm",
        gauge_tolerance_mm, "most_drop_mm", most_drop_mm, "caution_drop_mm", caution_drop_mm, "sharp_radius_um",
        sharp_radius_um, "dull_radius_um", dull_radius_um, "chip_depth_mm", chip_depth_mm, "retired_length_mm",
        retired_length_mm, "least_edge_angle_rad", least_edge_angle_rad, "most_edge_angle_rad", most_edge_angle_rad,
        "filing_angle_rad", filing_angle_rad, "least_hook_rad", least_hook_rad, "most_hook_rad", most_hook_rad,
        "length_spread_warn_mm", length_spread_warn_mm, "length_spread_act_mm", length_spread_act_mm,
        "left_right_warn_rad", left_right_warn_rad, "left_right_act_rad", left_right_act_rad);
}

void each_field(auto&& field, like<LimitOverrides> auto& limits) {
  auto& [gauge_setting_mm, growing_setting, gauge_tolerance_mm, most_drop_mm, sharp_radius_um, dull_radius_um,
         chip_depth_mm, retired_length_mm, least_edge_angle_rad, most_edge_angle_rad, least_hook_rad, most_hook_rad,
         length_spread_warn_mm, length_spread_act_mm, left_right_warn_rad, left_right_act_rad] = limits;
  field("gauge_setting_mm", gauge_setting_mm, "growing_setting", growing_setting, "gauge_tolerance_mm",
        gauge_tolerance_mm, "most_drop_mm", most_drop_mm, "sharp_radius_um", sharp_radius_um, "dull_radius_um",
        dull_radius_um, "chip_depth_mm", chip_depth_mm, "retired_length_mm", retired_length_mm, "least_edge_angle_rad",
        least_edge_angle_rad, "most_edge_angle_rad", most_edge_angle_rad, "least_hook_rad", least_hook_rad,
        "most_hook_rad", most_hook_rad, "length_spread_warn_mm", length_spread_warn_mm, "length_spread_act_mm",
        length_spread_act_mm, "left_right_warn_rad", left_right_warn_rad, "left_right_act_rad", left_right_act_rad);
}

void each_field(auto&& field, like<KnownLength> auto& length) {
  auto& [value_mm, u_mm] = length;
  field("value_mm", value_mm, "u_mm", u_mm);
}

void each_field(auto&& field, like<ChainGeometry> auto& geometry) {
  auto& [pitch_mm, top_plate_width, side_plate, gauge_set_in, chain_width, chisel] = geometry;
  field("pitch_mm", pitch_mm, "top_plate_width", top_plate_width, "side_plate", side_plate, "gauge_set_in",
        gauge_set_in, "chain_width", chain_width, "chisel", chisel);
}

void each_field(auto&& field, like<ChainSheet> auto& sheet) {
  auto& [name, source, drive_link_gauge_mm, drive_links, sequence, first_cutter, counting, alike_after, low_profile,
         file_diameter_mm, filing_angle_rad, wood, geometry, limits] = sheet;
  field("name", name, "source", source, "drive_link_gauge_mm", drive_link_gauge_mm, "drive_links", drive_links,
        "sequence", sequence, "first_cutter", first_cutter, "counting", counting, "alike_after", alike_after,
        "low_profile", low_profile, "file_diameter_mm", file_diameter_mm, "filing_angle_rad", filing_angle_rad, "wood",
        wood, "geometry", geometry, "limits", limits);
}

void each_field(auto&& field, like<CutterSighting> auto& sighting) {
  auto& [photo, cutter] = sighting;
  field("photo", photo, "cutter", cutter);
}

void each_field(auto&& field, like<JoinedCutter> auto& cutter) {
  auto& [number, numbered_by, hand, place, measured, verdict, sightings, missing_views, contradictions] = cutter;
  field("number", number, "numbered_by", numbered_by, "hand", hand, "place", place, "measured", measured, "verdict",
        verdict, "sightings", sightings, "missing_views", missing_views, "contradictions", contradictions);
}

void each_field(auto&& field, like<Retake> auto& retake) {
  auto& [number, view, photo_path, why] = retake;
  field("number", number, "view", view, "photo_path", photo_path, "why", why);
}

void each_field(auto&& field, like<ChainVerdict> auto& verdict) {
  auto& [action, why, cannot_claim, look_next] = verdict;
  field("action", action, "why", why, "cannot_claim", cannot_claim, "look_next", look_next);
}

void each_field(auto&& field, like<ReportedFault> auto& fault) {
  auto& [what, number] = fault;
  field("what", what, "number", number);
}

void each_field(auto&& field, like<CountBand> auto& band) {
  auto& [least, likely, most] = band;
  field("least", least, "likely", likely, "most", most);
}

void each_field(auto&& field, like<StrokeStock> auto& stock) {
  auto& [mm, source] = stock;
  field("mm", mm, "source", source);
}

void each_field(auto&& field, like<CutterWork> auto& work) {
  auto& [number, action, take_mm, strokes, length_after_mm, drop_after_mm, gauge_take_mm, notes] = work;
  field("number", number, "action", action, "take_mm", take_mm, "strokes", strokes, "length_after_mm", length_after_mm,
        "drop_after_mm", drop_after_mm, "gauge_take_mm", gauge_take_mm, "notes", notes);
}

void each_field(auto&& field, like<PlanOption> auto& option) {
  auto& [what, left_out, target_mm, saved_mm, sharpenings_left, but] = option;
  field("what", what, "left_out", left_out, "target_mm", target_mm, "saved_mm", saved_mm, "sharpenings_left",
        sharpenings_left, "but", but);
}

void each_field(auto&& field, like<FilingPlan> auto& plan) {
  auto& [target_mm, decided_by, stock_per_stroke, work, filing_order, left_less_right_mm, sharpenings_left, options,
         not_planned, notes] = plan;
  field("target_mm", target_mm, "decided_by", decided_by, "stock_per_stroke", stock_per_stroke, "work", work,
        "filing_order", filing_order, "left_less_right_mm", left_less_right_mm, "sharpenings_left", sharpenings_left,
        "options", options, "not_planned", not_planned, "notes", notes);
}

void each_field(auto&& field, like<ChainInspection> auto& inspection) {
  auto& [sheet, limits, photos, cutters, expected_cutters, retakes, reported, verdict, plan, counting, notes] =
      inspection;
  field("sheet", sheet, "limits", limits, "photos", photos, "cutters", cutters, "expected_cutters", expected_cutters,
        "retakes", retakes, "reported", reported, "verdict", verdict, "plan", plan, "counting", counting, "notes",
        notes);
}

void each_field(auto&& field, like<RecordedInspection> auto& recorded) {
  auto& [id, chain, at, stage, program_version, inspection] = recorded;
  field("id", id, "chain", chain, "at", at, "stage", stage, "program_version", program_version, "inspection",
        inspection);
}

void each_field(auto&& field, like<Job> auto& job) {
  auto& [hours, tanks, area_m2, wood, dirt, metal] = job;
  field("hours", hours, "tanks", tanks, "area_m2", area_m2, "wood", wood, "dirt", dirt, "metal", metal);
}

void each_field(auto&& field, like<CutterStrokes> auto& cutter) {
  auto& [number, strokes] = cutter;
  field("number", number, "strokes", strokes);
}

void each_field(auto&& field, like<FilingDone> auto& filing) {
  auto& [who, strokes, otherwise, cost] = filing;
  field("who", who, "strokes", strokes, "otherwise", otherwise, "cost", cost);
}

void each_field(auto&& field, like<Purchase> auto& purchase) {
  auto& [price, currency] = purchase;
  field("price", price, "currency", currency);
}

void each_field(auto&& field, like<TimedCut> auto& cut) {
  auto& [seconds, section_cm2, wood] = cut;
  field("seconds", seconds, "section_cm2", section_cm2, "wood", wood);
}

}  // namespace glintline
