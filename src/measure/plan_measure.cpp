#include "measure/plan_measure.h"

#include <algorithm>
#include <cmath>

#include "base/text.h"
#include "math/rectangular.h"
#include "math/statistics.h"
#include "measure/plan_chips.h"
#include "measure/plan_geometry.h"
#include "measure/plan_rounding_mm.h"

namespace glintline {

namespace {

constexpr double kDegree = M_PI / 180;
/// Top plates stand 1.5 to 3.5 mm over the card.
constexpr double kHeightMm = 2.5;
constexpr double kHeightHalfMm = 1.0;
/// Top slope 2 to 8 degrees.
constexpr double kSlopeRad = 5 * kDegree;
constexpr double kSlopeHalfRad = 3 * kDegree;
/// The rear rim is rounded by 0 to 0.4 mm (by experience), and its outline is its rearmost line.
constexpr double kRearDropMm = 0.2;
constexpr double kRearDropHalfMm = 0.2;
/// Rear ends that are told lie on the true ones within 0.02 mm (root mean square, by experiment: tests/accuracy).
constexpr double kRearMm = 0.02;
/// Foremost point of a rounded corner: between the top plate and where the side plate begins, 0 to 2 mm lower.
constexpr double kCornerDropMm = 1.0;
constexpr double kCornerDropHalfMm = 1.0;
/// The inner end of an edge is rounded over so much: what is missing there is no chip.
constexpr double kInnerEndMm = 0.15;
/// Wear that grows along the edge turns its outline against its sharp line: rounding of 40 um at one end and 60 at the
/// other by 0.3 degrees; half of that is usual (by experience).
constexpr double kUWearTurnRad = 0.15 * kDegree;
/// A tag belongs to the cutter next to it, within this way.
constexpr double kTagReachMm = 30;

/// Everything assumed, with its standard uncertainty, as a list of moves.
struct Move {
  Source source;
  PlanSpace space;
};

PlanSpace nominal_space(const CardPose& pose, const Setup& setup) {
  PlanSpace space;
  space.view = pose.view;
  space.height_mm = setup.stand_off ? setup.stand_off->value_mm : kHeightMm;
  space.slope_rad = kSlopeRad;
  space.rear_drop_mm = kRearDropMm;
  space.corner_drop_mm = kCornerDropMm;
  space.chisel = setup.chain.chisel;
  return space;
}

std::vector<Move> moves(const PlanSpace& nominal, const CardPose& pose, const Setup& setup) {
  std::vector<Move> out;
  const auto add = [&](Source source, auto change) {
    PlanSpace space = nominal;
    change(space);
    out.push_back({source, space});
  };
  const double u_height = setup.stand_off ? setup.stand_off->u_mm : kHeightHalfMm * kRectangular;
  add(Source::kStandOff, [&](PlanSpace& s) { s.height_mm += u_height; });
  add(Source::kStandOff, [&](PlanSpace& s) { s.slope_rad += kSlopeHalfRad * kRectangular; });
  add(Source::kThickness, [&](PlanSpace& s) { s.rear_drop_mm += kRearDropHalfMm * kRectangular; });
  add(Source::kThickness, [&](PlanSpace& s) { s.corner_drop_mm += kCornerDropHalfMm * kRectangular; });
  add(Source::kDefinition, [&](PlanSpace& s) { s.turns = 1; });
  for (const ViewVariation& v : pose.variations) add(v.source, [&](PlanSpace& s) { s.view = v.view; });
  return out;
}

using Value = double (*)(const PlanGeometry&);

template <typename T>
std::vector<T> thinned(const std::vector<T>& points, std::size_t most) {
  if (points.size() <= most) return points;
  std::vector<T> out;
  for (std::size_t k = 0; k < most; ++k) out.push_back(points[k * (points.size() - 1) / (most - 1)]);
  return out;
}

/// What every look at a plate that shows its shape makes of a value, the first one first.
std::vector<double> values_in(const std::vector<PlanGeometry>& looks, Value value) {
  std::vector<double> values;
  for (const PlanGeometry& look : looks) values.push_back(value(look));
  return values;
}

/// What the looks agree on: the first one's value, whose edge's rounding was fitted, unless two others put it aside by
/// more than the outlines' noise.
double agreed(const std::vector<double>& values, double noise) {
  const double middle = median(values);
  return values.size() > 2 && std::abs(values.front() - middle) > noise ? middle : values.front();
}

/// The first look's geometry and those of the others, all in the same space.
std::vector<PlanGeometry> geometries(const PlateOutline& plate, const PlanGeometry& first, const PlanSpace& space) {
  std::vector<PlanGeometry> looks{first};
  PlateOutline seen = plate;
  seen.edge.clear();
  for (const PlateLines& lines : plate.again) {
    static_cast<PlateLines&>(seen) = lines;
    if (const auto g = plan_geometry(seen, space)) looks.push_back(*g);
  }
  return looks;
}

/// How the geometry answers to every influence: the influences move all points alike, so that a few of them tell it.
class Sensitivity {
 public:
  Sensitivity(const PlateOutline& plate, const PlanSpace& nominal, const std::vector<Move>& moves) {
    constexpr std::size_t kPoints = 40;
    PlateOutline few = plate;
    few.rear_px = thinned(plate.rear_px, kPoints);
    few.outer_side_px = thinned(plate.outer_side_px, kPoints);
    few.inner_side_px = thinned(plate.inner_side_px, kPoints);
    few.contour = thinned(plate.contour, 2 * kPoints);
    few.edge.clear();
    base_ = plan_geometry(few, nominal);
    for (const Move& move : moves) {
      if (const auto moved = plan_geometry(few, move.space)) moved_.emplace_back(move.source, *moved);
    }
  }

  /// `value` of all looks together with its budget: what each influence changes, the outlines' own noise, and how far
  /// the looks differ, since an outline that is taken for one thing here and for another there is in doubt everywhere.
  [[nodiscard]] Quantity quantity(Value value, const std::vector<PlanGeometry>& looks, double u_edge) const {
    const std::vector<double> values = values_in(looks, value);
    Quantity q{agreed(values, u_edge), {{Source::kEdge, u_edge}}};
    if (values.size() > 1) q.budget.push_back({Source::kEdge, standard_deviation(values)});
    if (!base_) return q;
    for (const auto& [source, moved] : moved_) q.budget.push_back({source, std::abs(value(moved) - value(*base_))});
    return q;
  }

 private:
  std::optional<PlanGeometry> base_;
  std::vector<std::pair<Source, PlanGeometry>> moved_;
};

double seen_share(const std::vector<Recession>& outline) {
  const auto seen = std::count_if(outline.begin(), outline.end(), [](const Recession& r) { return r.seen; });
  return outline.empty() ? 0 : static_cast<double>(seen) / static_cast<double>(outline.size());
}

Mark edge_mark(const PlateOutline& plate, const EdgeChart& chart) {
  Mark mark{MarkRole::kEdge, {}, {}};
  for (std::size_t k = 0; k < plate.edge.size(); ++k) {
    mark.points_px.push_back(plate.edge[k].outline_px);
    mark.values.push_back(chart[k].radius_um);
  }
  return mark;
}

/// The outline of a chip as its depth was taken: behind a wall the flat's end, and the outline only up to where that
/// begins and ends, because rows without it in between are not told.
std::vector<Point2> line_of_chip(const PlateOutline& plate, const PlanGeometry& g, const PlateSpace& space,
                                 const FoundChip& chip) {
  std::vector<const ContourPoint*> rows;
  for (const ContourPoint& p : plate.contour) {
    const double s = along_and_behind(g, space.at(p.px)).x();
    if (p.seen && s >= chip.from_mm && s <= chip.to_mm) rows.push_back(&p);
  }
  const auto walled = [&](const ContourPoint* p) { return chip.wall && (p->flat_px - p->px).norm() > 1; };
  const auto first = std::find_if(rows.begin(), rows.end(), walled);
  const auto last = std::find_if(rows.rbegin(), rows.rend(), walled).base();
  std::vector<Point2> out;
  for (auto row = rows.begin(); row != rows.end(); ++row) {
    const bool between = row >= first && row < last;
    if (walled(*row) || !between) out.push_back(walled(*row) ? (*row)->flat_px : (*row)->px);
  }
  return out;
}

/// The look whose length is nearest to the one that is given.
const PlanGeometry& nearest_in_length(const std::vector<PlanGeometry>& looks, double length_mm) {
  return *std::ranges::min_element(looks, {}, [=](const PlanGeometry& g) { return std::abs(g.length - length_mm); });
}

void add_edge_marks(CutterMeasurement& m, const PlateOutline& plate, const PlanGeometry& g, const PlateSpace& space) {
  const Point2 end = g.corner + g.edge_length * g.edge.direction;
  m.marks.push_back({MarkRole::kEdgeLine, {space.pixel(g.corner), space.pixel(end)}, {}});
  m.marks.push_back(edge_mark(plate, m.edge_chart));
}

void add_length_marks(CutterMeasurement& m, const PlanGeometry& g, const PlateSpace& space) {
  const Point2 rear = g.foremost - g.length * g.running;
  if (m.length_mm) m.marks.push_back({MarkRole::kLength, {space.pixel(rear), space.pixel(g.foremost)}, {}});
  m.marks.push_back({MarkRole::kCorner, {space.pixel(g.foremost)}, {}});
}

void add_chip_marks(CutterMeasurement& m, const PlateOutline& plate, const PlanGeometry& g, const PlateSpace& space,
                    const std::vector<FoundChip>& chips) {
  for (const FoundChip& chip : chips) {
    Mark mark{MarkRole::kChip, {}, fixed(chip.chip.depth_mm.value, 2) + " mm"};
    mark.points_px = line_of_chip(plate, g, space, chip);
    m.marks.push_back(mark);
  }
}

void add_rounding(CutterMeasurement& m, const PlateOutline& plate, const PlanGeometry& g, const PlanSpace& space,
                  const std::vector<FoundChip>& chips) {
  EdgeRounding rounding = edge_rounding(plate, g, space, chips, kSlopeHalfRad * kRectangular);
  m.edge_radius_um = rounding.median_um;
  m.edge_radius_p90_um = rounding.p90_um;
  m.edge_radius_limit_um = rounding.limit_um;
  m.edge_chart = std::move(rounding.chart);
  for (EdgeChartPoint& p : m.edge_chart) p.s_mm -= g.corner_foot;
  if (!rounding.missing.empty()) m.missing.push_back(rounding.missing);
}

/// The length as it is, the length that the corner would give where the lines meet, and what is missing between them.
void add_lengths(CutterMeasurement& m, const std::vector<PlanGeometry>& looks, const Sensitivity& sensitivity) {
  const PlanGeometry& g = looks.front();
  const CornerKind kind = g.working_corner.kind;
  const double u_length = std::hypot(g.u_rear, g.u_corner);
  m.length_mm = sensitivity.quantity([](const PlanGeometry& k) { return k.length; }, looks, u_length);
  m.whole_length_mm = sensitivity.quantity([](const PlanGeometry& k) { return k.whole_length; }, looks,
                                           kind == CornerKind::kRounded ? u_length : g.u_rear);
  for (auto* length : {&m.length_mm, &m.whole_length_mm}) {
    (*length)->budget.push_back({Source::kDefinition, kRearMm});
  }
  if (g.u_hidden > 0) {
    m.length_mm->budget.push_back({Source::kDefinition, g.u_hidden});
    if (kind == CornerKind::kRounded) m.whole_length_mm->budget.push_back({Source::kDefinition, g.u_hidden});
  }
  if (kind == CornerKind::kSharp || kind == CornerKind::kBroken) {
    m.corner_loss_mm = sensitivity.quantity([](const PlanGeometry& k) { return k.whole_length - k.length; }, looks,
                                            std::hypot(g.u_corner, g.u_hidden));
    // Up to twice the usual setback is a chisel's own rounding and no loss.
    m.corner_loss_mm->budget.push_back({Source::kDefinition, g.corner_setback});
  }
}

/// A rounded corner's outline behind its own bend; what lower metal shows beyond the bend's end is none of it.
std::vector<Recession> without_bend(const std::vector<Recession>& outline, const PlanGeometry& g) {
  std::vector<Recession> own = outline;
  const double end = g.working_corner.end ? g.working_corner.end->in_mm / std::cos(g.edge_angle) : 0;
  for (Recession& r : own) r.seen = r.seen && r.row_mm > end;
  return behind_bend(own, g.straight_from);
}

/// Chips of the edge and, first, the gap of a broken corner. Behind that gap the edge's own search begins.
std::vector<FoundChip> chips_of(const std::vector<Recession>& outline, const PlanGeometry& g, double blur_px) {
  constexpr double kRowsPx = 0.816;  // standard deviation of the three rows that the trace averages
  constexpr double kCornerMm = 0.4;
  const WorkingCorner& corner = g.working_corner;
  const double corner_way = corner.gap ? corner.gap->to_mm : g.corner_foot + kCornerMm;
  const bool bent = corner.kind == CornerKind::kRounded;
  std::vector<FoundChip> chips =
      find_chips(bent ? without_bend(outline, g) : outline, {g.mm_per_px, std::hypot(blur_px, kRowsPx)}, corner_way,
                 g.edge_length - kInnerEndMm);
  if (corner.gap) chips.insert(chips.begin(), *corner.gap);
  return chips;
}

/// Bounds that no top plate's shape leaves, new or worn out; beyond them straight lines of links and block were put
/// together to one. New plates are 9 to 11 mm long and edges filed at 10 (ripping) to 45 degrees (TRADE.md).
bool like_a_plate(const PlanGeometry& g) {
  constexpr double kMostLengthMm = 12;
  constexpr double kLeastAngle = 5 * kDegree;
  constexpr double kMostAngle = 50 * kDegree;
  return g.length < kMostLengthMm && g.edge_angle > kLeastAngle && g.edge_angle < kMostAngle;
}

std::optional<CutterMeasurement> measure_plate(const PlateOutline& plate, const std::vector<Point2>& links_px,
                                               const CardPose& pose, const Setup& setup) {
  PlanSpace space = nominal_space(pose, setup);
  space.links_px = links_px;
  const auto g = plan_geometry(plate, space);
  if (!g || !like_a_plate(*g)) return std::nullopt;
  const std::vector<PlanGeometry> looks = geometries(plate, *g, space);
  space.corner = g->working_corner;
  const PlateSpace plane(space, plate.corner_px, g->running);
  const Sensitivity sensitivity(plate, space, moves(space, pose, setup));
  CutterMeasurement m;
  m.hand = g->right_hand ? Hand::kRight : Hand::kLeft;
  add_lengths(m, looks, sensitivity);
  const PlanGeometry& typical = nearest_in_length(looks, m.length_mm->value);
  m.corner_px = plane.pixel(typical.foremost);
  const BoardBox field = pose.field();
  for (const Point2& p : {typical.foremost, typical.rear}) {
    m.over_field = m.over_field && (p - field.min).minCoeff() > 0 && (field.max - p).minCoeff() > 0;
  }
  if (plate.rear_in_doubt) {
    m.length_mm.reset();
    m.whole_length_mm.reset();
    m.missing.push_back("length: two lines may be the plate's rear end: turn the lamp or the camera a little");
  }
  // Where dirt or a wall decides which part of an outline is its straight one, one look's own doubt may be an accident.
  m.edge_angle_rad = sensitivity.quantity([](const PlanGeometry& k) { return k.edge_angle; }, looks,
                                          median(values_in(looks, [](const PlanGeometry& k) { return k.u_angle; })));
  m.edge_angle_rad->budget.push_back({Source::kDefinition, kUWearTurnRad});
  const std::vector<Recession> outline = recession_of(plate, *g, plane);
  const std::vector<FoundChip> chips = chips_of(outline, *g, plate.strip.blur_px);
  for (const FoundChip& c : chips) {
    m.chips.push_back(c.chip);
    m.chips.back().at_mm = c.chip.at_corner ? 0 : c.chip.at_mm - g->corner_foot;
  }
  m.chips_searched = seen_share(outline) > 0.8;
  if (!m.chips_searched) {
    m.missing.push_back("chips: " + fixed(100 * (1 - seen_share(outline)), 0) +
                        " % of the edge looks like the metal beneath: tuck a slip of paper under the edge");
  }
  add_rounding(m, plate, *g, space, chips);
  add_edge_marks(m, plate, *g, plane);
  add_length_marks(m, typical, plane);
  add_chip_marks(m, plate, *g, plane, chips);
  return m;
}

CutterMeasurement left_out(const PlateLeftOut& left) {
  CutterMeasurement m;
  m.corner_px = left.at_px;
  m.over_field = false;
  m.missing.push_back("not measured: " + left.why);
  return m;
}

/// Gives every tag's number to the nearest cutter.
void number_cutters(std::vector<CutterMeasurement>& cutters, const CardPose& pose) {
  for (const NumberTag& tag : pose.tags) {
    const Point2 middle = (tag.corners_px[0] + tag.corners_px[1] + tag.corners_px[2] + tag.corners_px[3]) / 4;
    const Point2 at = pose.view.at_height(middle, 0);
    CutterMeasurement* nearest = nullptr;
    double least = kTagReachMm;
    for (CutterMeasurement& m : cutters) {
      const double way = (pose.view.at_height(m.corner_px, kHeightMm) - at).norm();
      if (way >= least) continue;
      least = way;
      nearest = &m;
    }
    if (nearest && !nearest->number) nearest->number = tag.number;
  }
}

/// What the light may have hidden of the roundings that have a value.
void add_light_note(const PlanOutlines& outlines, Measurements& out) {
  const auto rounded = [](const CutterMeasurement& m) { return m.edge_radius_um.has_value(); };
  if (std::none_of(out.cutters.begin(), out.cutters.end(), rounded)) return;
  const auto partly = [](const PlateOutline& plate) { return plate.strip.partly.has_value(); };
  if (std::any_of(outlines.plates.begin(), outlines.plates.end(), partly)) {
    out.notes.push_back(
        "edge radius: the light reaches a part of the rounding only, which widens its uncertainty; a broad light "
        "ahead of the edge shows all of it");
    return;
  }
  out.notes.push_back(
      "edge radius: a small lamp may light a part of the rounding only, which then reads low; a broad "
      "light ahead of the edge shows all of it");
}

}  // namespace

Measurements measure_plan(const PlanOutlines& outlines, const CardPose& pose, const Setup& setup) {
  Measurements out;
  out.view = ViewKind::kPlan;
  out.notes = outlines.notes;
  if (!outlines.plates.empty()) {
    out.notes.push_back(outlines.links_px.empty()
                            ? "chain's direction from the top plates' side edges"
                            : "chain's direction from the top plates' side edges and the links in the slot");
  }
  for (const PlateOutline& plate : outlines.plates) {
    if (auto m = measure_plate(plate, outlines.links_px, pose, setup)) {
      out.cutters.push_back(std::move(*m));
    } else {
      out.cutters.push_back(left_out({plate.corner_px,
                                      "its sides, rear end and edge make no top plate's shape: clean it, put a "
                                      "slip of paper under the edge and photograph it again"}));
    }
  }
  for (const PlateLeftOut& left : outlines.left_out) out.cutters.push_back(left_out(left));
  number_cutters(out.cutters, pose);
  add_light_note(outlines, out);
  if (!out.cutters.empty()) out.mm_per_px = pose.view.mm_per_px(out.cutters[0].corner_px, kHeightMm);
  if (!setup.stand_off) {
    out.notes.push_back("height of the top plates over the card not given: 1.5 to 3.5 mm taken, which widens lengths");
  }
  return out;
}

}  // namespace glintline
