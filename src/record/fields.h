#pragma once

#include <array>
#include <span>

#include "model/inspection.h"
#include "record/json_value.h"

// The fields of the model's structs under the names they are recorded by. The structured bindings make a field that is
// forgotten here a compile error: give a new one a name at the end of its list. Names are never changed or used again
// for something else, because records outlive programs.

namespace glintline {

[[nodiscard]] inline std::span<const EnumName<Source>> names_of(Source) {
  static constexpr std::array<EnumName<Source>, 8> kNames{{{Source::kEdge, "edge"},
                                                           {Source::kPose, "pose"},
                                                           {Source::kFocal, "focal"},
                                                           {Source::kPrint, "print"},
                                                           {Source::kStandOff, "stand_off"},
                                                           {Source::kThickness, "thickness"},
                                                           {Source::kFlatness, "flatness"},
                                                           {Source::kDefinition, "definition"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Fault>> names_of(Fault) {
  static constexpr std::array<EnumName<Fault>, 16> kNames{{{Fault::kBadOption, "bad_option"},
                                                           {Fault::kFileMissing, "file_missing"},
                                                           {Fault::kNotAPicture, "not_a_picture"},
                                                           {Fault::kDamagedPicture, "damaged_picture"},
                                                           {Fault::kTooLarge, "too_large"},
                                                           {Fault::kTooSmall, "too_small"},
                                                           {Fault::kTooCoarse, "too_coarse"},
                                                           {Fault::kNoCard, "no_card"},
                                                           {Fault::kWrongCard, "wrong_card"},
                                                           {Fault::kCardHidden, "card_hidden"},
                                                           {Fault::kTilted, "tilted"},
                                                           {Fault::kBlurred, "blurred"},
                                                           {Fault::kNoCutter, "no_cutter"},
                                                           {Fault::kNotMeasurable, "not_measurable"},
                                                           {Fault::kCannotWrite, "cannot_write"},
                                                           {Fault::kUnforeseen, "unforeseen"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<ViewKind>> names_of(ViewKind) {
  static constexpr std::array<EnumName<ViewKind>, 2> kNames{
      {{ViewKind::kProfile, "profile"}, {ViewKind::kPlan, "plan"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Hand>> names_of(Hand) {
  static constexpr std::array<EnumName<Hand>, 2> kNames{{{Hand::kLeft, "left"}, {Hand::kRight, "right"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<StripState>> names_of(StripState) {
  static constexpr std::array<EnumName<StripState>, 3> kNames{
      {{StripState::kLit, "lit"}, {StripState::kPart, "part"}, {StripState::kUnlit, "unlit"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<MarkRole>> names_of(MarkRole) {
  static constexpr std::array<EnumName<MarkRole>, 11> kNames{{{MarkRole::kRivetLine, "rivet_line"},
                                                              {MarkRole::kRivet, "rivet"},
                                                              {MarkRole::kTopPlate, "top_plate"},
                                                              {MarkRole::kGauge, "gauge"},
                                                              {MarkRole::kDrop, "drop"},
                                                              {MarkRole::kLength, "length"},
                                                              {MarkRole::kCorner, "corner"},
                                                              {MarkRole::kHook, "hook"},
                                                              {MarkRole::kEdge, "edge"},
                                                              {MarkRole::kEdgeLine, "edge_line"},
                                                              {MarkRole::kChip, "chip"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Action>> names_of(Action) {
  static constexpr std::array<EnumName<Action>, 7> kNames{{{Action::kGaugeTooLow, "gauge_too_low"},
                                                           {Action::kRetire, "retire"},
                                                           {Action::kUndecided, "undecided"},
                                                           {Action::kFile, "file"},
                                                           {Action::kLowerGauge, "lower_gauge"},
                                                           {Action::kTouchUp, "touch_up"},
                                                           {Action::kLeave, "leave"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<Standing>> names_of(Standing) {
  static constexpr std::array<EnumName<Standing>, 4> kNames{{{Standing::kWithin, "within"},
                                                             {Standing::kBeyond, "beyond"},
                                                             {Standing::kUndecided, "undecided"},
                                                             {Standing::kUnknown, "unknown"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<CardKind>> names_of(CardKind) {
  static constexpr std::array<EnumName<CardKind>, 2> kNames{{{CardKind::kWide, "wide"}, {CardKind::kClose, "close"}}};
  return kNames;
}

[[nodiscard]] inline std::span<const EnumName<FocalSource>> names_of(FocalSource) {
  static constexpr std::array<EnumName<FocalSource>, 4> kNames{{{FocalSource::kCameraFile, "camera_file"},
                                                                {FocalSource::kExif, "exif"},
                                                                {FocalSource::kPicture, "picture"},
                                                                {FocalSource::kDefault, "default"}}};
  return kNames;
}

void each_field(auto&& field, like<BudgetLine> auto& line) {
  auto& [source, u] = line;
  field("source", source, "u", u);
}

void each_field(auto&& field, like<Quantity> auto& quantity) {
  auto& [value, budget] = quantity;
  field("value", value, "budget", budget);
}

void each_field(auto&& field, like<Error> auto& error) {
  auto& [fault, what, where] = error;
  field("fault", fault, "what", what, "where", where);
}

void each_field(auto&& field, like<Pose> auto& pose) {
  auto& [rotation, translation] = pose;
  field("rotation", rotation, "translation", translation);
}

void each_field(auto&& field, like<Camera> auto& camera) {
  auto& [fx, fy, cx, cy, distortion, u_focal_rel, u_centre_px, source] = camera;
  field("fx", fx, "fy", fy, "cx", cx, "cy", cy, "distortion", distortion, "u_focal_rel", u_focal_rel, "u_centre_px",
        u_centre_px, "source", source);
}

void each_field(auto&& field, like<CameraView> auto& view) {
  auto& [camera, camera_from_board] = view;
  field("camera", camera, "camera_from_board", camera_from_board);
}

void each_field(auto&& field, like<PrintScale> auto& print) {
  auto& [x, y, u_rel, measured] = print;
  field("x", x, "y", y, "u_rel", u_rel, "measured", measured);
}

void each_field(auto&& field, like<NumberTag> auto& tag) {
  auto& [number, corners_px] = tag;
  field("number", number, "corners_px", corners_px);
}

void each_field(auto&& field, like<ViewVariation> auto& variation) {
  auto& [source, view] = variation;
  field("source", source, "view", view);
}

void each_field(auto&& field, like<CardPose> auto& card) {
  auto& [kind, square_mm, view, variations, print, bow_mm, rms_px, saddles, tilt_rad, blur_px, overshoot, tags,
         warnings] = card;
  field("kind", kind, "square_mm", square_mm, "view", view, "variations", variations, "print", print, "bow_mm", bow_mm,
        "rms_px", rms_px, "saddles", saddles, "tilt_rad", tilt_rad, "blur_px", blur_px, "overshoot", overshoot, "tags",
        tags, "warnings", warnings);
}

void each_field(auto&& field, like<Chip> auto& chip) {
  auto& [at_mm, depth_mm, width_mm, area_mm2, at_corner] = chip;
  field("at_mm", at_mm, "depth_mm", depth_mm, "width_mm", width_mm, "area_mm2", area_mm2, "at_corner", at_corner);
}

void each_field(auto&& field, like<Mark> auto& mark) {
  auto& [role, points_px, label, values] = mark;
  field("role", role, "points_px", points_px, "label", label, "values", values);
}

void each_field(auto&& field, like<EdgeChartPoint> auto& point) {
  auto& [s_mm, radius_um, u_radius_um, recession_mm, state] = point;
  field("s_mm", s_mm, "radius_um", radius_um, "u_radius_um", u_radius_um, "recession_mm", recession_mm, "state", state);
}

void each_field(auto&& field, like<CutterMeasurement> auto& cutter) {
  auto& [number, hand, corner_px, over_field, length_mm, whole_length_mm, corner_loss_mm, gauge_drop_mm, edge_angle_rad,
         top_slope_rad, hook_angle_rad, corner_rounding_um, edge_radius_um, edge_radius_p90_um, edge_radius_limit_um,
         chips, chips_searched, edge_chart, missing, marks] = cutter;
  field("number", number, "hand", hand, "corner_px", corner_px, "over_field", over_field, "length_mm", length_mm,
        "whole_length_mm", whole_length_mm, "corner_loss_mm", corner_loss_mm, "gauge_drop_mm", gauge_drop_mm,
        "edge_angle_rad", edge_angle_rad, "top_slope_rad", top_slope_rad, "hook_angle_rad", hook_angle_rad,
        "corner_rounding_um", corner_rounding_um, "edge_radius_um", edge_radius_um, "edge_radius_p90_um",
        edge_radius_p90_um, "edge_radius_limit_um", edge_radius_limit_um, "chips", chips, "chips_searched",
        chips_searched, "edge_chart", edge_chart, "missing", missing, "marks", marks);
}

void each_field(auto&& field, like<Finding> auto& finding) {
  auto& [quantity, standing, text] = finding;
  field("quantity", quantity, "standing", standing, "text", text);
}

void each_field(auto&& field, like<Verdict> auto& verdict) {
  auto& [action, also, why, would_decide, findings] = verdict;
  field("action", action, "also", also, "why", why, "would_decide", would_decide, "findings", findings);
}

void each_field(auto&& field, like<InspectedCutter> auto& cutter) {
  auto& [measured, verdict] = cutter;
  field("measured", measured, "verdict", verdict);
}

void each_field(auto&& field, like<Inspection> auto& inspection) {
  auto& [photo_path, photo_sha256, program_version, refusal, card, view, mm_per_px, pitch_mm, cutters, notes] =
      inspection;
  field("photo_path", photo_path, "photo_sha256", photo_sha256, "program_version", program_version, "refusal", refusal,
        "card", card, "view", view, "mm_per_px", mm_per_px, "pitch_mm", pitch_mm, "cutters", cutters, "notes", notes);
}

}  // namespace glintline
