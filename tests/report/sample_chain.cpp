#include "report/sample_chain.h"

#include <cmath>
#include <random>

#include "report/jpeg.h"
#include "report/pixel_canvas.h"
#include "report/sample_inspection.h"

namespace glintline::testing {
namespace {

constexpr double kDegree = M_PI / 180;

Limits sample_limits() {
  Limits limits;
  limits.gauge_setting_mm = {0.65, "chain sheet Bench loop 1"};
  limits.gauge_tolerance_mm = {0.1, "proposed"};
  limits.most_drop_mm = {0.8, "common practice"};
  limits.sharp_radius_um = {10, "common practice"};
  limits.dull_radius_um = {30, "common practice"};
  limits.chip_depth_mm = {0.1, "proposed"};
  limits.retired_length_mm = {4, "chain sheet Bench loop 1"};
  limits.least_edge_angle_rad = {25 * kDegree, "handbook"};
  limits.most_edge_angle_rad = {35 * kDegree, "handbook"};
  limits.length_spread_warn_mm = {0.2, "proposed"};
  limits.length_spread_act_mm = {0.5, "proposed"};
  return limits;
}

EdgeChart sample_edge(double radius_um, double chip_mm) {
  EdgeChart edge;
  for (int i = 0; i <= 60; ++i) {
    const double s = 0.1 * i;
    EdgeChartPoint point{s, radius_um * (1 + 0.5 * std::exp(-s)), 2.5, 0.004 + 0.01 * std::exp(-s), StripState::kLit};
    const bool in_chip = chip_mm > 0 && std::abs(s - 2.1) < 0.25;
    if (in_chip) point = {s, std::nan(""), std::nan(""), chip_mm * (1 - std::abs(s - 2.1) / 0.25), StripState::kUnlit};
    edge.push_back(point);
  }
  return edge;
}

JoinedCutter sample_cutter(int number, std::mt19937& random) {
  std::normal_distribution<double> noise;
  JoinedCutter cutter;
  cutter.number = number;
  cutter.hand = number % 2 ? Hand::kLeft : Hand::kRight;
  const int nth = (number + 1) / 2;
  const char* ending = nth == 1 ? "st" : nth == 2 ? "nd" : nth == 3 ? "rd" : "th";
  cutter.place = std::to_string(nth) + ending + (number % 2 ? " left-hander" : " right-hander") + " behind the mark";
  CutterMeasurement& m = cutter.measured;
  m.number = number;
  m.hand = cutter.hand;
  m.length_mm = quantity(8.1 + 0.08 * noise(random), 0.04);
  m.gauge_drop_mm = quantity(0.6 + 0.05 * noise(random), 0.02);
  m.top_slope_rad = quantity(5 * kDegree, 0.4 * kDegree);
  m.chips_searched = true;
  if (number % 9 == 5) {
    m.edge_radius_limit_um = 22;
  } else {
    m.edge_radius_um = quantity(31 + 6 * noise(random), 2.5);
    m.edge_radius_p90_um = quantity(48 + 6 * noise(random), 4);
    m.edge_angle_rad = quantity((30 + noise(random)) * kDegree, 0.25 * kDegree);
    m.edge_chart = sample_edge(m.edge_radius_um->value, 0);
  }
  cutter.verdict.action = Action::kFile;
  cutter.verdict.why = {"edge radius over the dull limit 30 um (common practice)"};
  cutter.verdict.findings = {{"edge radius", Standing::kBeyond, "edge radius over the dull limit"},
                             {"gauge drop", Standing::kWithin, "gauge drop within"}};
  return cutter;
}

void damage(std::vector<JoinedCutter>& cutters) {
  JoinedCutter& chipped = cutters[6];
  chipped.measured.chips = {{2.1, quantity(0.62, 0.02), quantity(0.5, 0.02), quantity(0.15, 0.01)}};
  chipped.measured.edge_chart = sample_edge(34, 0.62);
  chipped.verdict.also = {Action::kLowerGauge};
  chipped.verdict.why = {"chip 0.62 +- 0.04 mm deep at 2.1 mm: a stone",
                         "edge radius 34 +- 5 um over the dull limit 30 um"};
  chipped.verdict.findings.push_back({"chips", Standing::kBeyond, "chip 0.62 mm deep"});
  cutters[13].verdict.action = Action::kUndecided;
  cutters[13].verdict.why = {"gauge drop 0.78 +- 0.05 mm: too close to 0.80 mm (common practice) to call"};
  cutters[13].verdict.would_decide = {"a photograph from closer, with the top plates under the middle of the picture"};
  cutters[13].contradictions = {"length 8.12 +- 0.08 mm from above, 7.90 +- 0.10 mm from the side"};
  cutters[20].verdict.action = Action::kRetire;
  cutters[20].measured.length_mm = quantity(4.1, 0.04);
  cutters[20].verdict.why = {"length 4.10 +- 0.08 mm: under 4.00 mm once it is filed (chain sheet Bench loop 1)"};
  cutters[20].place = "<script>alert('villain')</script> & \"sons\"";
  for (const int sharp : {2, 11, 24}) {
    cutters[sharp].verdict.action = Action::kLeave;
    cutters[sharp].verdict.why = {"edge radius under the dull limit, no chips"};
  }
  cutters[30].verdict.action = Action::kTouchUp;
  cutters[32].verdict.action = Action::kLowerGauge;
}

FilingPlan sample_plan(const std::vector<JoinedCutter>& cutters) {
  FilingPlan plan;
  plan.target_mm = quantity(7.31, 0.05);
  plan.decided_by = 7;
  plan.stock_per_stroke = {quantity(0.05, 0.01), "assumed, wide"};
  for (const JoinedCutter& cutter : cutters) {
    CutterWork work;
    work.number = cutter.number;
    work.action = cutter.verdict.action == Action::kRetire ? Action::kRetire : Action::kFile;
    const double take = cutter.measured.length_mm->value - 7.31;
    if (work.action == Action::kFile) {
      work.take_mm = quantity(take, 0.05);
      work.strokes = CountBand{std::floor(take / 0.07), std::round(take / 0.05), std::ceil(take / 0.03)};
    }
    if (cutter.number % 3 == 0) work.gauge_take_mm = quantity(0.12, 0.02);
    if (cutter.number == 7)
      work.notes = {"the stone has hardened the edge: touch it with a stone first, the file would skip"};
    plan.work.push_back(work);
  }
  for (const int start : {1, 2}) {
    for (int number = start; number <= 34; number += 2) plan.filing_order.push_back(number);
  }
  plan.left_less_right_mm = quantity(0.03, 0.02);
  plan.sharpenings_left = CountBand{9, 14, 22};
  plan.options = {{"leave cutter 7 short and file the others to 7.80 mm",
                   {7},
                   quantity(7.8, 0.05),
                   quantity(0.49, 0.05),
                   CountBand{12, 18, 28},
                   {"cutter 7 then cuts nothing until the others reach it"}}};
  return plan;
}

ChainHistory sample_history() {
  ChainHistory history;
  history.chain = "Bench loop 1";
  history.points = {{"2026-10-01", "new", ChainAction::kUse, 36, quantity(10, 0.03), quantity(8, 1.5),
                     quantity(0.63, 0.01), 0.0, 0, 0, 0},
                    {"2026-10-20", "after clean work", ChainAction::kUse, 36, quantity(10, 0.03), quantity(14, 1.5),
                     quantity(0.63, 0.01), 0.0, 6, 8, 4},
                    {"2026-11-02", "after dirt", ChainAction::kFile, 34, quantity(9.98, 0.03), quantity(31, 2),
                     quantity(0.62, 0.01), 0.2, 9, 12, 6.2}};
  history.events = {{"a", "Bench loop 1", "2026-10-01", Purchase{24.9, "EUR"}, ""},
                    {"b", "Bench loop 1", "2026-10-12", Job{6.0, 8.0, 4.0, "spruce", false, false}, ""},
                    {"c", "Bench loop 1", "2026-11-01", Job{3.0, 4.0, 2.2, "beech", true, false}, "the stone"}};
  history.filings = 1;
  history.sharpenings_left = CountBand{9, 14, 22};
  history.cost = 28.9;
  history.currency = "EUR";
  history.cost_per_hour = 3.21;
  history.statements = {
      "rounding grew 5.7 +- 1.6 um an hour in the work that touched dirt, 1.0 +- 0.7 um an hour in clean work: a real "
      "difference"};
  return history;
}

Comparison sample_comparison() {
  Comparison comparison;
  ComparedCutter cutter;
  cutter.number = 7;
  cutter.hand = Hand::kLeft;
  cutter.changes = {
      {"length", quantity(8.1, 0.04), quantity(7.4, 0.04), quantity(-0.7, 0.05), true, "0.70 +- 0.10 mm filed off"},
      {"edge radius", quantity(34, 2.5), quantity(9, 2), quantity(-25, 3), true, "sharp again"},
      {"edge angle", quantity(30 * kDegree, 0.2 * kDegree), quantity(30.2 * kDegree, 0.2 * kDegree),
       quantity(0.2 * kDegree, 0.3 * kDegree), false, "no real change"}};
  cutter.searched_after = true;
  cutter.chips = {{2.1, quantity(0.62, 0.02), std::nullopt}};
  cutter.edge = EdgeAfter::kClean;
  cutter.findings = {"chip at 2.1 mm is gone"};
  comparison.cutters = {cutter};
  comparison.verdict = {"The filing took the damage away on all cutters that were compared."};
  comparison.not_compared = {"cutter 35: not photographed afterwards"};
  return comparison;
}

/// Any picture, so that pages have their weight.
ReportPicture sample_picture(int number, const char* caption) {
  PixelCanvas canvas(760, 560, {0.08, 0.27, 0.74});
  canvas.fill({180, 210, 400, 180}, {0.62, 0.62, 0.6});
  canvas.text("cutter " + std::to_string(number), {220, 320}, {48, {0, 0, 0}, true});
  return {number, jpeg_bytes(canvas.pixels()).value(), 760, 560, caption};
}

}  // namespace

ReportContent sample_report() {
  ReportContent content;
  content.recorded = {"id", "Bench loop 1", "2026-11-02T14:30", "after dirt", "0.1.0", {}};
  ChainInspection& inspection = content.recorded.inspection;
  inspection.limits = sample_limits();
  inspection.expected_cutters = 36;
  std::mt19937 random(7);
  for (int number = 1; number <= 34; ++number) inspection.cutters.push_back(sample_cutter(number, random));
  damage(inspection.cutters);
  inspection.photos = {profile_inspection(), plan_inspection(), refused_inspection()};
  inspection.verdict = {
      ChainAction::kFile,
      {"27 of 34 cutters are dull, cutter 7 is chipped 0.62 +- 0.04 mm deep", "Cutter 21 is at its end"},
      {"cutters 35 and 36 were not looked at"},
      {"cutters 35 and 36: nobody has photographed them"}};
  inspection.plan = sample_plan(inspection.cutters);
  inspection.retakes = {{14, ViewKind::kProfile, "bench/dark.jpg", "too close to call: from closer"}};
  content.pictures = {sample_picture(7, "p7.jpg, from above"), sample_picture(7, "c7.jpg, from the side"),
                      sample_picture(21, "c21.jpg, from the side")};
  content.comparison = sample_comparison();
  content.history = sample_history();
  return content;
}

}  // namespace glintline::testing
