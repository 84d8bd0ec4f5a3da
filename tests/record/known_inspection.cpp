#include "record/known_inspection.h"

#include <gtest/gtest.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

namespace glintline::testing {
namespace {

/// Numbers that a decimal cannot hold shortly, never the same twice.
class Numbers {
 public:
  double operator()() { return std::sqrt(static_cast<double>(++count_)) / 3.0; }

 private:
  int count_ = 1;
};

Quantity some(Numbers& next) {
  return {next(),
          {{Source::kEdge, next()},
           {Source::kPose, next()},
           {Source::kFocal, next()},
           {Source::kPrint, next()},
           {Source::kStandOff, next()},
           {Source::kThickness, next()},
           {Source::kFlatness, next()},
           {Source::kDefinition, next()}}};
}

CameraView some_view(Numbers& next) {
  CameraView view;
  view.camera = {
      next(), next(), next(), next(), {next(), -next(), next(), next(), next()}, next(), next(), FocalSource::kPicture};
  for (Eigen::Index i = 0; i < 9; ++i) view.camera_from_board.rotation(i) = next();
  view.camera_from_board.translation = Point3(next(), next(), -next());
  return view;
}

CardPose some_card(Numbers& next) {
  CardPose card;
  card.kind = CardKind::kClose;
  card.square_mm = next();
  card.view = some_view(next);
  card.variations = {{Source::kFlatness, some_view(next)}, {Source::kPose, some_view(next)}};
  card.print = {next(), next(), next(), true};
  card.bow_mm = next();
  card.rms_px = next();
  card.saddles = 173;
  card.tilt_rad = next();
  card.blur_px = next();
  card.overshoot = next();
  card.tags = {{12, {Point2(next(), next()), Point2(next(), next()), Point2(next(), next()), Point2(next(), next())}}};
  card.warnings = {"bowed", "mirror image"};
  return card;
}

CutterMeasurement some_cutter(Numbers& next) {
  CutterMeasurement cutter;
  cutter.number = 12;
  cutter.hand = Hand::kRight;
  cutter.corner_px = Point2(next(), next());
  cutter.over_field = false;
  cutter.length_mm = some(next);
  cutter.whole_length_mm = some(next);
  cutter.corner_loss_mm = some(next);
  cutter.gauge_drop_mm = some(next);
  cutter.edge_angle_rad = some(next);
  cutter.top_slope_rad = some(next);
  cutter.hook_angle_rad = some(next);
  cutter.corner_rounding_um = some(next);
  cutter.edge_radius_um = some(next);
  cutter.edge_radius_p90_um = some(next);
  cutter.edge_radius_limit_um = next();
  cutter.chips = {{next(), some(next), some(next), some(next)}, {next(), some(next), some(next), some(next), true}};
  cutter.chips_searched = true;
  cutter.edge_chart = {{next(), next(), next(), next(), StripState::kLit}, {next()}};
  cutter.edge_chart[1].state = StripState::kPart;
  cutter.missing = {"hook angle: not seen"};
  cutter.marks = {{MarkRole::kEdge, {{next(), next()}, {next(), next()}}, "edge", {next(), std::nan("")}},
                  {MarkRole::kRivetLine, {{next(), -0.0}}, "", {}}};
  return cutter;
}

// Declared first, for the templates below cannot find them by their arguments' namespace.
void expect_same(const BudgetLine& a, const BudgetLine& b);
void expect_same(const Quantity& a, const Quantity& b);
void expect_same(const Chip& a, const Chip& b);
void expect_same(const EdgeChartPoint& a, const EdgeChartPoint& b);
void expect_same(const Mark& a, const Mark& b);
void expect_same(const CameraView& a, const CameraView& b);
void expect_same(const ViewVariation& a, const ViewVariation& b);
void expect_same(const NumberTag& a, const NumberTag& b);
void expect_same(const CardPose& a, const CardPose& b);
void expect_same(const InspectedCutter& a, const InspectedCutter& b);
void expect_same(const Error& a, const Error& b);

void expect_same(double a, double b) {
  if (std::isnan(a) && std::isnan(b)) return;
  EXPECT_EQ(std::bit_cast<std::uint64_t>(a), std::bit_cast<std::uint64_t>(b)) << a << " and " << b;
}

template <typename Derived>
void expect_same(const Eigen::MatrixBase<Derived>& a, const Eigen::MatrixBase<Derived>& b) {
  for (Eigen::Index i = 0; i < a.rows(); ++i) {
    for (Eigen::Index j = 0; j < a.cols(); ++j) expect_same(double(a(i, j)), double(b(i, j)));
  }
}

template <typename List>
void expect_same_each(const List& a, const List& b) {
  ASSERT_EQ(a.size(), b.size());
  for (std::size_t i = 0; i < a.size(); ++i) expect_same(a[i], b[i]);
}

template <typename T>
void expect_same(const std::optional<T>& a, const std::optional<T>& b) {
  ASSERT_EQ(a.has_value(), b.has_value());
  if (a) expect_same(*a, *b);
}

void expect_same(const BudgetLine& a, const BudgetLine& b) {
  EXPECT_EQ(a.source, b.source);
  expect_same(a.u, b.u);
}

void expect_same(const Quantity& a, const Quantity& b) {
  expect_same(a.value, b.value);
  expect_same_each(a.budget, b.budget);
}

void expect_same(const Chip& a, const Chip& b) {
  expect_same(a.at_mm, b.at_mm);
  expect_same(a.depth_mm, b.depth_mm);
  expect_same(a.width_mm, b.width_mm);
  expect_same(a.area_mm2, b.area_mm2);
  EXPECT_EQ(a.at_corner, b.at_corner);
}

void expect_same(const EdgeChartPoint& a, const EdgeChartPoint& b) {
  expect_same(a.s_mm, b.s_mm);
  expect_same(a.radius_um, b.radius_um);
  expect_same(a.u_radius_um, b.u_radius_um);
  expect_same(a.recession_mm, b.recession_mm);
  EXPECT_EQ(a.state, b.state);
}

void expect_same(const Mark& a, const Mark& b) {
  EXPECT_EQ(a.role, b.role);
  expect_same_each(a.points_px, b.points_px);
  EXPECT_EQ(a.label, b.label);
  expect_same_each(a.values, b.values);
}

void expect_same(const CameraView& a, const CameraView& b) {
  expect_same(a.camera.fx, b.camera.fx);
  expect_same(a.camera.fy, b.camera.fy);
  expect_same(a.camera.cx, b.camera.cx);
  expect_same(a.camera.cy, b.camera.cy);
  expect_same_each(a.camera.distortion, b.camera.distortion);
  expect_same(a.camera.u_focal_rel, b.camera.u_focal_rel);
  expect_same(a.camera.u_centre_px, b.camera.u_centre_px);
  EXPECT_EQ(a.camera.source, b.camera.source);
  expect_same(a.camera_from_board.rotation, b.camera_from_board.rotation);
  expect_same(a.camera_from_board.translation, b.camera_from_board.translation);
}

void expect_same(const ViewVariation& a, const ViewVariation& b) {
  EXPECT_EQ(a.source, b.source);
  expect_same(a.view, b.view);
}

void expect_same(const NumberTag& a, const NumberTag& b) {
  EXPECT_EQ(a.number, b.number);
  expect_same_each(a.corners_px, b.corners_px);
}

void expect_same(const CardPose& a, const CardPose& b) {
  EXPECT_EQ(a.kind, b.kind);
  expect_same(a.square_mm, b.square_mm);
  expect_same(a.view, b.view);
  expect_same_each(a.variations, b.variations);
  expect_same(a.print.x, b.print.x);
  expect_same(a.print.y, b.print.y);
  expect_same(a.print.u_rel, b.print.u_rel);
  EXPECT_EQ(a.print.measured, b.print.measured);
  expect_same(a.bow_mm, b.bow_mm);
  expect_same(a.rms_px, b.rms_px);
  EXPECT_EQ(a.saddles, b.saddles);
  expect_same(a.tilt_rad, b.tilt_rad);
  expect_same(a.blur_px, b.blur_px);
  expect_same(a.overshoot, b.overshoot);
  expect_same_each(a.tags, b.tags);
  EXPECT_EQ(a.warnings, b.warnings);
}

void expect_same_values(const CutterMeasurement& a, const CutterMeasurement& b) {
  expect_same(a.length_mm, b.length_mm);
  expect_same(a.whole_length_mm, b.whole_length_mm);
  expect_same(a.corner_loss_mm, b.corner_loss_mm);
  expect_same(a.gauge_drop_mm, b.gauge_drop_mm);
  expect_same(a.edge_angle_rad, b.edge_angle_rad);
  expect_same(a.top_slope_rad, b.top_slope_rad);
  expect_same(a.hook_angle_rad, b.hook_angle_rad);
  expect_same(a.corner_rounding_um, b.corner_rounding_um);
  expect_same(a.edge_radius_um, b.edge_radius_um);
  expect_same(a.edge_radius_p90_um, b.edge_radius_p90_um);
  expect_same(a.edge_radius_limit_um, b.edge_radius_limit_um);
}

void expect_same(const InspectedCutter& a, const InspectedCutter& b) {
  EXPECT_EQ(a.measured.number, b.measured.number);
  EXPECT_EQ(a.measured.hand, b.measured.hand);
  expect_same(a.measured.corner_px, b.measured.corner_px);
  EXPECT_EQ(a.measured.over_field, b.measured.over_field);
  expect_same_values(a.measured, b.measured);
  expect_same_each(a.measured.chips, b.measured.chips);
  EXPECT_EQ(a.measured.chips_searched, b.measured.chips_searched);
  expect_same_each(a.measured.edge_chart, b.measured.edge_chart);
  EXPECT_EQ(a.measured.missing, b.measured.missing);
  expect_same_each(a.measured.marks, b.measured.marks);
  EXPECT_EQ(a.verdict.action, b.verdict.action);
  EXPECT_EQ(a.verdict.also, b.verdict.also);
  EXPECT_EQ(a.verdict.why, b.verdict.why);
  EXPECT_EQ(a.verdict.would_decide, b.verdict.would_decide);
  ASSERT_EQ(a.verdict.findings.size(), b.verdict.findings.size());
  for (std::size_t i = 0; i < a.verdict.findings.size(); ++i) {
    EXPECT_EQ(a.verdict.findings[i].quantity, b.verdict.findings[i].quantity);
    EXPECT_EQ(a.verdict.findings[i].standing, b.verdict.findings[i].standing);
    EXPECT_EQ(a.verdict.findings[i].text, b.verdict.findings[i].text);
  }
}

void expect_same(const Error& a, const Error& b) {
  EXPECT_EQ(a.fault, b.fault);
  EXPECT_EQ(a.what, b.what);
  EXPECT_EQ(a.where, b.where);
}

}  // namespace

Inspection full_inspection() {
  Numbers next;
  Inspection inspection;
  inspection.photo_path = "b\xC3\xA4nk/\xFF\x01 \"7\".jpg";
  inspection.photo_sha256 = std::string(64, 'c');
  inspection.program_version = "0.1.0";
  inspection.refusal = Error{Fault::kBlurred, "moved at cutter 7 </script>", "b.jpg"};
  inspection.card = some_card(next);
  inspection.view = ViewKind::kPlan;
  inspection.mm_per_px = next();
  inspection.pitch_mm = some(next);
  Verdict verdict;
  verdict.action = Action::kFile;
  verdict.also = {Action::kLowerGauge, Action::kTouchUp};
  verdict.why = {"chip 0.31 +- 0.02 mm deep", "\xE2\x80\xA8"};
  verdict.would_decide = {"closer"};
  verdict.findings = {{"chip", Standing::kBeyond, "deep"}, {"edge", Standing::kUndecided, "near"}};
  inspection.cutters = {{some_cutter(next), verdict}, {some_cutter(next), {}}};
  inspection.notes = {"one", ""};
  return inspection;
}

RecordedInspection recorded_chain(const std::string& id, int cutters) {
  Numbers next;
  RecordedInspection recorded{id, "Bench loop 1", "2026-11-02T14:30", "after dirt", "0.1.0", {}};
  ChainInspection& chain = recorded.inspection;
  chain.sheet.name = recorded.chain;
  chain.sheet.alike_after = 36;
  chain.sheet.geometry.side_plate = KnownLength{next(), next()};
  chain.sheet.limits.growing_setting = GrowingSetting{next(), next(), next(), next()};
  chain.limits.gauge_setting_mm = {next(), "chain sheet"};
  chain.limits.caution_drop_mm = Limit{next(), "handbook"};
  for (int number = 1; number <= cutters; ++number) {
    chain.photos.push_back(full_inspection());
    JoinedCutter cutter;
    cutter.number = number;
    cutter.measured = some_cutter(next);
    cutter.sightings = {{static_cast<std::size_t>(number - 1), 1}};
    cutter.missing_views = {ViewKind::kPlan};
    chain.cutters.push_back(cutter);
    chain.plan.work.push_back({number,
                               Action::kFile,
                               some(next),
                               CountBand{next(), next(), next()},
                               some(next),
                               some(next),
                               some(next),
                               {"stone first"}});
  }
  chain.retakes = {{3, ViewKind::kPlan, "bench/p3.jpg", "blurred"}};
  chain.reported = {{"crack", 2}};
  chain.verdict = {ChainAction::kOutOfUse, {"gauge too low"}, {"cutter 9 was not looked at"}, {"9"}};
  chain.plan.stock_per_stroke = {some(next), "assumed, wide"};
  chain.plan.options = {{"skip 2", {2}, some(next), some(next), CountBand{next(), next(), next()}, {"it stays short"}}};
  chain.counting = Counting::kAhead;
  return recorded;
}

void expect_same(const Inspection& a, const Inspection& b) {
  EXPECT_EQ(a.photo_path, b.photo_path);
  EXPECT_EQ(a.photo_sha256, b.photo_sha256);
  EXPECT_EQ(a.program_version, b.program_version);
  expect_same(a.refusal, b.refusal);
  expect_same(a.card, b.card);
  EXPECT_EQ(a.view, b.view);
  expect_same(a.mm_per_px, b.mm_per_px);
  expect_same(a.pitch_mm, b.pitch_mm);
  expect_same_each(a.cutters, b.cutters);
  EXPECT_EQ(a.notes, b.notes);
}

}  // namespace glintline::testing
