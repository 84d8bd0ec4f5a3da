#include "measure/profile_measure.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "base/text.h"
#include "math/statistics.h"
#include "measure/cutter_geometry.h"
#include "measure/profile_heights.h"
#include "measure/profile_values.h"
#include "measure/rivet_row.h"
#include "measure/row_agreement.h"
#include "measure/scale_check.h"
#include "measure/sight_advice.h"

namespace glintline {

namespace {

/// Everything that is asked of one cutter.
struct Subject {
  const CutterOutline& outline;
  const CardPose& pose;
  const Setup& setup;
};

/// Half of what gauges are set to (TRADE.md: 0.45 to 0.80 mm): a drop that is told to no better than a whole setting
/// says nothing of the gauge, and is no ground to take a chain out of use.
constexpr double kMostUDropMm = 0.3;

/// Why a drop is told to no better than that.
std::string no_drop(const Quantity& drop) {
  const BudgetLine* largest = drop.largest();
  if (largest && (largest->source == Source::kThickness || largest->source == Source::kStandOff)) {
    return "gauge drop: from so far beside the tops it hangs on how wide the plates are: put the top plates under the "
           "middle of the picture, or write the widths into the chain's sheet";
  }
  return "gauge drop: top plate and depth gauge are not told well enough from the field: turn the lamp, or take the "
         "cutter from its other side";
}

/// A cutter lives for about 5 mm of length (TRADE.md: 9 to 11 new, 3 to 4 at its end): told worse than this, it is not
/// told.
constexpr double kMostULengthMm = 0.5;

std::vector<Point2> pixels_of(const std::vector<EdgePoint>& edge) {
  std::vector<Point2> px;
  for (const EdgePoint& e : edge) px.push_back(e.px);
  return px;
}

/// What was measured where, for the annotated picture.
void draw_marks(CutterMeasurement& m, const Subject& s, const CutterGeometry& g, const ProfileHeights& h,
                double rear_x) {
  const ChainFrame frame(s.pose.view, s.outline, h);
  const double pitch = g.rivet_distance;
  m.marks.push_back(
      {MarkRole::kRivetLine, {frame.pixel({-0.3 * pitch, 0}, h.rivets), frame.pixel({1.3 * pitch, 0}, h.rivets)}, ""});
  m.marks.push_back({MarkRole::kRivet, s.outline.rear_rivet.rim_px, ""});
  m.marks.push_back({MarkRole::kRivet, s.outline.front_rivet.rim_px, ""});
  m.marks.push_back({MarkRole::kTopPlate, pixels_of(s.outline.likelier_top()), ""});
  if (m.gauge_drop_mm) {
    m.marks.push_back({MarkRole::kGauge, pixels_of(s.outline.gauge), ""});
    m.marks.push_back({MarkRole::kDrop,
                       {frame.pixel({g.gauge_high_x, g.plate_high}, h.plate_outer),
                        frame.pixel({g.gauge_high_x, g.gauge_high}, h.gauge_outer)},
                       fixed(m.gauge_drop_mm->value, 2) + " mm"});
  }
  m.marks.push_back({MarkRole::kCorner, {m.corner_px}, ""});
  if (g.corner_x && m.length_mm) {
    m.marks.push_back(
        {MarkRole::kLength,
         {frame.pixel({rear_x, g.plate_high}, h.plate_outer), frame.pixel({*g.corner_x, g.plate_high}, h.plate_outer)},
         fixed(m.length_mm->value, 2) + " mm"});
  }
  if (g.hook) {
    const Point2 from(*g.corner_x, *g.corner_z - 0.2);
    const Point2 to = from + 0.8 * Point2(-std::cos(*g.hook), -std::sin(*g.hook)) / std::sin(*g.hook);
    m.marks.push_back({MarkRole::kHook, {frame.pixel(from, h.plate_outer), frame.pixel(to, h.plate_outer)}, ""});
  }
}

/// The number of the tag that lies nearest to a cutter, at most two and a half pitches away.
std::optional<int> number_beside(const CutterOutline& cutter, const CardPose& pose) {
  const Point2 rear = pose.view.at_height(cutter.rear_rivet.centre_px, 0);
  const Point2 front = pose.view.at_height(cutter.front_rivet.centre_px, 0);
  const Point2 middle = 0.5 * (rear + front);
  // Half the distance to the next cutter, four pitches on, and a little more across the chain.
  double nearest = 2.5 * (front - rear).norm();
  std::optional<int> number;
  for (const NumberTag& tag : pose.tags) {
    const Point2 centre = 0.25 * (tag.corners_px[0] + tag.corners_px[1] + tag.corners_px[2] + tag.corners_px[3]);
    const Point2 away = pose.view.at_height(centre, 0) - middle;
    if (std::abs(away.dot((front - rear).normalized())) > 2 * (front - rear).norm()) continue;
    if (away.norm() < nearest) {
      nearest = away.norm();
      number = tag.number;
    }
  }
  return number;
}

/// One look at a cutter, measured.
struct Look {
  CutterOutline outline;
  std::optional<Evaluations> all;  ///< nothing where too little stands out against the field
  std::optional<ProfileValues> values;  ///< nothing where that makes no cutter's shape either
};

/// The working corner, or the top's highest place where it is not seen.
Point2 corner_px(const CutterGeometry& g, const ChainFrame& frame, const ProfileHeights& h) {
  return frame.pixel({g.corner_x.value_or(g.plate_high_x), g.corner_z.value_or(g.plate_high)}, h.plate_outer);
}

/// A pixel at the working corner, mm.
double px_mm_of(const Look& look, const Subject& s) {
  const ProfileHeights h = profile_heights(s.setup, look.outline.outer_face_up).usual;
  const ChainFrame frame(s.pose.view, look.outline, h);
  return s.pose.view.mm_per_px(corner_px(look.all->usual, frame, h), h.plate_outer);
}

/// A look's values, as far as it has been evaluated.
ProfileValues values_of(const Look& look, const Subject& s, const std::optional<RowAgreement>& row = {}) {
  const ProfileHeights h = profile_heights(s.setup, look.outline.outer_face_up).usual;
  const ChainFrame frame(s.pose.view, look.outline, h);
  const bool hidden = corner_hidden(look.outline, frame, h.plate_outer);
  return values_of(*look.all, look.outline, px_mm_of(look, s), hidden, row);
}

Look measured_look(const Subject& s) {
  Look look{s.outline, evaluate(s.outline, s.pose, s.setup), {}};
  if (look.all && like_a_cutter(look.all->usual)) look.values = values_of(look, s);
  return look;
}

/// The same with a whole budget.
void take_influences(Look& look, const Subject& s, const std::optional<RowAgreement>& row = {}) {
  if (!look.all->moved.empty()) return;
  take_influences(*look.all, look.outline, s.pose, s.setup);
  look.values = values_of(look, s, row);
}

/// Every look at a cutter, measured; what does not come from its lines is the same in all of them.
std::vector<Look> measured_looks(const Subject& s) {
  CutterOutline outline = s.outline;
  outline.again.clear();
  std::vector<Look> looks{measured_look({outline, s.pose, s.setup})};
  for (const CutterLines& lines : s.outline.again) {
    static_cast<CutterLines&>(outline) = lines;
    looks.push_back(measured_look({outline, s.pose, s.setup}));
  }
  return looks;
}

/// A value of every look that has it.
std::vector<double> values_in(const std::vector<Look>& looks, ProfileValue ProfileValues::*which) {
  std::vector<double> values;
  for (const Look& look : looks) {
    if (look.values && ((*look.values).*which).quantity) values.push_back(((*look.values).*which).quantity->value);
  }
  return values;
}

/// Standard deviation of what the looks say; 0 where fewer than two say something.
double spread(const std::vector<double>& values) { return values.size() < 2 ? 0 : standard_deviation(values); }

/// The look that stands for all of them, in the budgets and in the drawing: nearest to the medians of drop and length.
/// At least one look has values.
std::size_t typical_of(const std::vector<Look>& looks) {
  constexpr double kMissingMm = 1;
  constexpr std::array kLengths{&ProfileValues::drop_mm, &ProfileValues::length_mm};
  const auto off = [&](const Look& look) {
    if (!look.values) return std::numeric_limits<double>::infinity();
    double sum = 0;
    for (const auto which : kLengths) {
      const std::vector<double> all = values_in(looks, which);
      if (all.empty()) continue;
      const auto& own = ((*look.values).*which).quantity;
      sum += own ? std::abs(own->value - median(all)) : kMissingMm;
    }
    return sum;
  };
  return static_cast<std::size_t>(std::ranges::min_element(looks, {}, off) - looks.begin());
}

/// What the looks say together, where more than half of them say something: the median, with the budget of the typical
/// one, or of the first that has the value, and their standard deviation, since an outline that is taken for one thing
/// here and for another there is in doubt everywhere.
ProfileValue common_value(std::vector<Look>& looks, Look& typical, ProfileValue ProfileValues::*which, const Subject& s,
                          const std::optional<RowAgreement>& row) {
  const std::vector<double> values = values_in(looks, which);
  const auto has = [which](const Look& look) { return look.values && ((*look.values).*which).quantity; };
  if (2 * values.size() <= looks.size()) {
    const auto says_why = [which](const Look& look) { return look.values && !((*look.values).*which).missing.empty(); };
    const auto look = std::ranges::find_if(looks, says_why);
    return {{}, look == looks.end() ? "" : ((*look->values).*which).missing};
  }
  Look& look = has(typical) ? typical : *std::ranges::find_if(looks, has);
  take_influences(look, s, row);
  const ProfileValue& own = (*look.values).*which;
  Quantity common{median(values) + own.learned, own.quantity->budget};
  common.budget.push_back({Source::kEdge, spread(values)});
  return {common, ""};
}

constexpr std::array kAllValues{&ProfileValues::drop_mm, &ProfileValues::length_mm, &ProfileValues::slope_rad,
                                &ProfileValues::hook_rad, &ProfileValues::rounding_um};

ProfileValues common_values(std::vector<Look>& looks, Look& typical, const Subject& s,
                            const std::optional<RowAgreement>& row) {
  for (Look& look : looks) {
    if (row && look.values) look.values = values_of(look, s, row);
  }
  ProfileValues common;
  for (const auto which : kAllValues) common.*which = common_value(looks, typical, which, s, row);
  const auto hangs = [](const Look& look) { return look.values && look.values->drop_hangs_on_the_face; };
  if (common.drop_mm.quantity && std::ranges::any_of(looks, hangs)) {
    common.drop_mm = {{},
                      "gauge drop: not told which side of the cutter looks at the camera: put the top plates under the "
                      "middle of the picture, or turn the lamp"};
  }
  // A sixth of a gauge's setting: looks that differ by more took different things for the outline.
  constexpr double kMostSpreadMm = 0.1;
  if (common.drop_mm.quantity && spread(values_in(looks, &ProfileValues::drop_mm)) > kMostSpreadMm) {
    common.drop_mm = {{},
                      "gauge drop: steel is not told from the field that it mirrors: turn the lamp, or put the top "
                      "plates under the middle of the picture"};
  }
  const auto& drop = common.drop_mm.quantity;
  if (drop && drop->u() > kMostUDropMm) common.drop_mm = {{}, no_drop(*drop)};
  const auto& length = common.length_mm.quantity;
  if (length && length->u() > kMostULengthMm) common.length_mm = {{}, kNoLength};
  return common;
}

/// What is said of a cutter of which most looks show no whole shape.
CutterMeasurement without_values(CutterMeasurement m, const std::vector<Look>& looks, const Subject& s,
                                 const ProfileHeights& h) {
  if (s.outline.hidden) {
    m.corner_px = s.outline.hidden->corner_px;
    m.missing.push_back("gauge drop, length: " + s.outline.hidden->why);
    return m;
  }
  const auto shapeless = [](const Look& look) { return look.all && !look.values; };
  const auto shape = std::ranges::find_if(looks, shapeless);
  m.corner_px = s.outline.front_rivet.centre_px;  // about where
  if (shape == looks.end()) {
    m.missing.push_back(
        "gauge drop, length: too little of the top plate or the depth gauge stands out against the field");
    return m;
  }
  const ChainFrame frame(s.pose.view, shape->outline, h);
  m.corner_px = frame.pixel({shape->all->usual.plate_high_x, shape->all->usual.plate_high}, h.plate_outer);
  m.missing.push_back(
      "gauge drop, length: the outline makes no cutter's shape (dirt, sawdust or a shadow in the way): "
      "brush the cutter clean and take it again");
  return m;
}

/// A cutter with all looks at it.
struct SeenCutter {
  Subject subject;
  std::vector<Look> looks;
  std::optional<std::size_t> typical;  ///< which of them stands for all; nothing where too few show a whole shape
};

SeenCutter seen_cutter(const Subject& s) {
  SeenCutter seen{s, measured_looks(s), {}};
  const auto whole = std::ranges::count_if(seen.looks, [](const Look& look) { return look.values.has_value(); });
  if (2 * whole > std::ssize(seen.looks)) seen.typical = typical_of(seen.looks);
  return seen;
}

/// Heads are peened by hand or machine: the middle of one's outline lies beside its rivet's axis by so much (from
/// memory).
constexpr double kPeenedMm = 0.05;

/// Where a cutter shows its rear end, if it does and it is not in doubt which face looks up.
RearPlace rear_place(SeenCutter& seen) {
  const Subject& s = seen.subject;
  const RivetOutline& rivet = s.outline.rear_rivet;
  const double rivets_mm = profile_heights(s.setup, s.outline.outer_face_up).usual.rivets;
  RearPlace place;
  place.u_rivet = std::hypot(kPeenedMm, rivet.u_px * s.pose.view.mm_per_px(rivet.centre_px, rivets_mm));
  if (!seen.typical) return place;
  Look& typical = seen.looks[*seen.typical];
  const Evaluations& all = *typical.all;
  if (all.other_face || !like_a_rear_end(all.usual)) return place;
  std::vector<double> places;
  for (const Look& look : seen.looks) {
    if (look.values && like_a_rear_end(look.all->usual)) places.push_back(*look.all->usual.rear_x);
  }
  if (2 * places.size() <= seen.looks.size()) return place;
  take_influences(typical, s);
  place.x = median(places);
  place.u = std::hypot(all.usual.u_rear_x, bias_of(px_mm_of(typical, s)), spread(places));
  const Eigen::VectorXd changes = by_influence(
      all, [](const CutterGeometry& g) { return g.rear_x; }, *all.usual.rear_x);
  place.by_influence.assign(changes.begin(), changes.end());
  return place;
}

CutterMeasurement measured(SeenCutter& seen, const std::optional<RowAgreement>& row) {
  const Subject& s = seen.subject;
  CutterMeasurement m;
  m.number = number_beside(s.outline, s.pose);
  const ProfileHeights h = profile_heights(s.setup, s.outline.outer_face_up).usual;
  if (!seen.typical) return without_values(std::move(m), seen.looks, s, h);
  Look& typical = seen.looks[*seen.typical];
  const ProfileValues common = common_values(seen.looks, typical, s, row);
  for (const auto which : kAllValues) {
    if (!(common.*which).missing.empty()) m.missing.push_back((common.*which).missing);
  }
  m.missing.push_back("edge angle, edge radius, chips: need a photograph from above (plan)");
  m.gauge_drop_mm = common.drop_mm.quantity;
  m.length_mm = common.length_mm.quantity;
  m.top_slope_rad = common.slope_rad.quantity;
  m.hook_angle_rad = common.hook_rad.quantity;
  m.corner_rounding_um = common.rounding_um.quantity;
  const CutterGeometry& g = typical.all->usual;
  const ChainFrame frame(s.pose.view, typical.outline, h);
  m.hand = s.outline.outer_face_up == frame.sees_right_side() ? Hand::kRight : Hand::kLeft;
  m.corner_px = corner_px(g, frame, h);
  draw_marks(m, {typical.outline, s.pose, s.setup}, g, h, row ? row->rear_x() : g.rear_x.value_or(0));
  return m;
}

}  // namespace

Measurements measure_profile(const ProfileOutlines& outlines, const CardPose& pose, const Setup& told) {
  Measurements result;
  const auto rough_pitch = measured_pitch(outlines, pose, told);
  const Setup setup = rough_pitch ? with_usual_size(told, told.chain.pitch_mm.value_or(rough_pitch->value)) : told;
  result.view = ViewKind::kProfile;
  result.rivet_heads = static_cast<int>(outlines.rivets.size());
  const double heads_mm = profile_heights(setup, true).usual.rivets;
  const std::vector<CutterOutline> cutters = cutters_on_row(outlines, pose.view, heads_mm);
  std::vector<SeenCutter> row;
  for (const CutterOutline& cutter : cutters) row.push_back(seen_cutter({cutter, pose, setup}));
  std::vector<RearPlace> rear_places;
  for (SeenCutter& seen : row) rear_places.push_back(rear_place(seen));
  const std::vector<RowAgreement> agreed = agreed_rear_ends(rear_places);
  bool borrowed = false;
  for (std::size_t i = 0; i < row.size(); ++i) {
    result.cutters.push_back(measured(row[i], agreed.empty() ? std::nullopt : std::optional(agreed[i])));
    borrowed = borrowed || (result.cutters.back().length_mm && !rear_places[i].x);
  }
  if (!result.cutters.empty()) {
    const HeightModel heights = profile_heights(setup, outlines.cutters.front().outer_face_up);
    result.mm_per_px = pose.view.mm_per_px(result.cutters.front().corner_px, heights.usual.plate_outer);
  }
  result.pitch_mm = measured_pitch(outlines, pose, setup);
  if (result.pitch_mm) result.notes = scale_warnings(*result.pitch_mm, outlines, pose, setup);
  if (borrowed) {
    result.notes.push_back("length: a rear end that is not seen is taken to lie where the other cutters' do");
  }
  if (auto advice = sight_advice(outlines, pose, told)) result.notes.push_back(std::move(*advice));
  if (outlines.goes_on_over_squares) {
    result.notes.push_back(
        "the chain goes on over the card's squares: cutters there are not measured; shift the chain to "
        "bring them over the plain field");
  }
  return result;
}

}  // namespace glintline
