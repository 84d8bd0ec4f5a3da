#include "report/sample_inspection.h"

#include <cmath>

namespace glintline::testing {
namespace {

constexpr double kDegree = M_PI / 180;

Inspection photographed(const std::string& path, ViewKind view) {
  Inspection inspection;
  inspection.photo_path = path;
  inspection.photo_sha256 = std::string(64, 'a');
  inspection.program_version = "0.1.0";
  inspection.card = CardPose{};
  inspection.card->kind = CardKind::kClose;
  inspection.card->tilt_rad = 3.1 * kDegree;
  inspection.card->rms_px = 0.214;
  inspection.card->saddles = 140;
  inspection.view = view;
  inspection.mm_per_px = 0.0124;
  return inspection;
}

std::vector<Mark> profile_marks() {
  return {{MarkRole::kRivetLine, {{300, 450}, {600, 450}}, ""},
          {MarkRole::kTopPlate, {{250, 260}, {400, 240}, {500, 230}}, ""},
          {MarkRole::kGauge, {{560, 270}, {590, 255}, {620, 270}}, ""},
          {MarkRole::kDrop, {{500, 230}, {590, 255}}, ""},
          {MarkRole::kLength, {{250, 260}, {500, 230}}, ""},
          {MarkRole::kCorner, {{500, 230}}, ""}};
}

}  // namespace

Quantity quantity(double value, double u) { return {value, {{Source::kEdge, u}}}; }

Inspection profile_inspection() {
  Inspection inspection = photographed("bench/c07.jpg", ViewKind::kProfile);
  inspection.pitch_mm = quantity(9.52, 0.01);
  inspection.notes = {"the print was not measured: 1 % of scale is open"};

  CutterMeasurement cutter;
  cutter.number = 7;
  cutter.hand = Hand::kRight;
  cutter.corner_px = Point2(500.12345, 230.5);
  cutter.gauge_drop_mm = quantity(0.501234567, 0.0150004);
  cutter.length_mm = quantity(8.41, 0.04);
  cutter.top_slope_rad = quantity(5.2 * kDegree, 0.5 * kDegree);
  cutter.missing = {"edge radius: seen from above only"};
  cutter.marks = profile_marks();
  Verdict verdict;
  verdict.action = Action::kLowerGauge;
  verdict.why = {"gauge drop 0.50 +- 0.03 mm: 0.15 under the setting 0.65 (common practice)"};
  inspection.cutters.push_back({cutter, verdict});

  CutterMeasurement beside;
  beside.corner_px = Point2(90, 250);
  beside.over_field = false;
  beside.missing = {"lies over the squares: shift the chain"};
  inspection.cutters.push_back({beside, {}});
  return inspection;
}

Inspection plan_inspection() {
  Inspection inspection = photographed("bench/p12.jpg", ViewKind::kPlan);
  CutterMeasurement cutter;
  cutter.number = 12;
  cutter.hand = Hand::kLeft;
  cutter.corner_px = Point2(500, 200);
  cutter.edge_angle_rad = quantity(29.7 * kDegree, 0.2 * kDegree);
  cutter.edge_radius_um = quantity(44.4, 3);
  cutter.edge_radius_p90_um = quantity(61, 5);
  cutter.edge_radius_limit_um = 14;
  cutter.chips_searched = true;
  cutter.chips = {{1.2, quantity(0.31, 0.01), quantity(0.4, 0.02), quantity(0.05, 0.01)},
                  {3.4, quantity(0.12, 0.01), quantity(0.2, 0.02), quantity(0.01, 0.01)}};
  cutter.marks = {{MarkRole::kEdge, {{500, 200}, {450, 280}, {400, 360}}, "", {40, std::nan(""), 60}},
                  {MarkRole::kEdgeLine, {{505, 200}, {405, 360}}, ""},
                  {MarkRole::kChip, {{470, 240}, {460, 250}, {474, 246}}, "chip 0.31 +- 0.02 mm deep"},
                  {MarkRole::kLength, {{200, 200}, {500, 200}}, ""}};
  Verdict verdict;
  verdict.action = Action::kUndecided;
  verdict.also = {Action::kFile};
  verdict.would_decide = {"a photograph from closer"};
  inspection.cutters.push_back({cutter, verdict});
  return inspection;
}

Inspection refused_inspection() {
  Inspection inspection;
  inspection.photo_path = "bench/dark.jpg";
  inspection.program_version = "0.1.0";
  inspection.refusal = Error{Fault::kCardHidden, "3 squares of the card seen, 12 needed: uncover the card", ""};
  return inspection;
}

}  // namespace glintline::testing
