#include "measure/profile_measure.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>
#include <optional>

#include "base/text.h"
#include "math/rectangular.h"
#include "math/statistics.h"
#include "measure/cutter_geometry.h"
#include "measure/profile_heights.h"
#include "measure/rivet_row.h"
#include "measure/row_agreement.h"
#include "measure/scale_check.h"
#include "measure/sight_advice.h"

namespace glintline {

namespace {

/// Edges of steel against a coloured field are found to about this share of the blur, whatever the noise: rims mirror
/// the field, cameras sharpen (by experiment: the accuracy tables of tests/accuracy).
constexpr double kEdgeBiasPx = 0.35;
/// However fine the picture: rims are rounded by up to about 0.2 mm (stamped, tumbled and worn; from memory), and the
/// part of a rounding whose normal lies more than 45 degrees from the sight line, (1 - sin 45°) of its radius, mirrors
/// what lies below and may or may not be told from it: between 0 and 0.06 mm, all alike probable. The top's and the
/// gauge's alike, it leaves the drop as it is.
constexpr double kMeanRimMm = 0.29 * 0.2 / 2;
constexpr double kURimMm = kMeanRimMm * kRectangular;
/// Where the top ends in a rim as the gauge does, lit and rounded alike, the drop keeps about half of what each rim's
/// place leaves open (by experiment: of 29 chisel cutters seen from their outer sides no drop left u95 with this; from
/// the inner side two of 11 that had not been looked at would have).
constexpr double kRimsUnlike = 0.5;

/// The part of a rounded shoulder whose normal lies nearly square to the sight line mirrors the field right behind it,
/// and turns to steel's own light little by little: the outline may be found inside of its end. Standard uncertainty,
/// by experiment (twelve cutters of the study: 0.3 px in the mean close up, too little to be added, 1.6 over the wide
/// card, 1.2 about either).
constexpr double kUHiddenShoulderPx = 1.2;

/// What a cutter gives with one influence moved by its standard uncertainty; nothing where no outline is left then.
struct Moved {
  Source source;
  std::optional<CutterGeometry> geometry;
};

/// All evaluations of one cutter: the usual one and one for every influence.
struct Evaluations {
  CutterGeometry usual;
  std::vector<Moved> moved;  ///< none before take_influences; the same influences for every cutter of a picture
  std::vector<CutterGeometry> fallen_gauges;
  std::optional<CutterGeometry> other_face;  ///< where it is in doubt which face looks up
  double chance_of_other_face = 0;
};

/// How likely the cutter shows its other face; not at all where that is less likely than u95 leaves any value out.
double chance_of_other_face(const CutterOutline& cutter) {
  constexpr double kClear = 0.05;
  return cutter.chance_of_other_face < kClear ? 0 : cutter.chance_of_other_face;
}

std::optional<Evaluations> evaluate(const CutterOutline& cutter, const CardPose& pose, const Setup& setup) {
  const HeightModel heights = profile_heights(setup, cutter.outer_face_up);
  const auto usual = cutter_geometry(pose.view, cutter, heights.usual);
  if (!usual) return std::nullopt;
  Evaluations all{*usual, {}, {}, {}, chance_of_other_face(cutter)};
  for (const ProfileHeights& fallen : heights.fallen_gauges) {
    if (const auto g = cutter_geometry(pose.view, cutter, fallen)) all.fallen_gauges.push_back(*g);
  }
  if (all.chance_of_other_face > 0) {
    CutterOutline turned = cutter;
    turned.outer_face_up = !cutter.outer_face_up;
    all.other_face = cutter_geometry(pose.view, turned, profile_heights(setup, turned.outer_face_up).usual);
  }
  return all;
}

/// The evaluations that only the budget asks for: four times as many as the value does.
void take_influences(Evaluations& all, const CutterOutline& cutter, const CardPose& pose, const Setup& setup) {
  const HeightModel heights = profile_heights(setup, cutter.outer_face_up);
  for (const ViewVariation& v : pose.variations) {
    all.moved.push_back({v.source, cutter_geometry(v.view, cutter, heights.usual)});
  }
  for (const HeightVariation& v : heights.variations) {
    const bool nothing_moved = v.heights == heights.usual;
    all.moved.push_back({v.source, nothing_moved ? all.usual : cutter_geometry(pose.view, cutter, v.heights)});
  }
}

/// By how much a gauge that is not square across it stands higher than its outline shows.
struct HiddenRim {
  double mean = 0;
  double u = 0;
};

/// The rim behind the one that makes the outline may stand higher and still be hidden; a lower one never makes the
/// gauge lower. So a fall of unknown direction does not average out: half of what the one direction hides is to be
/// added (JCGM 100:2008, 3.2.4), and as much is its standard uncertainty.
HiddenRim hidden_rim(const Evaluations& all) {
  if (all.fallen_gauges.empty()) return {};
  std::vector<double> higher;
  for (const CutterGeometry& g : all.fallen_gauges) higher.push_back(g.gauge_high - all.usual.gauge_high);
  const double middle = mean(higher);
  double squares = 0;
  for (const double h : higher) squares += (h - middle) * (h - middle);
  return {middle, std::sqrt(squares / static_cast<double>(higher.size()))};
}

using Part = std::function<std::optional<double>(const CutterGeometry&)>;

/// What is asked of a cutter and how it depends on what the cutters of its picture agree on.
struct Asked {
  Part part;
  double per_rear_mm = 0;  ///< its change with the place of the common rear end
};

/// A quantity, or why there is none.
struct Value {
  std::optional<Quantity> quantity;
  std::string missing;
  double learned = 0;  ///< to be added: what the cutters' agreement tells of the influences that move the quantity
};

/// Change of a part with each influence; 0 where the part is lost with it.
Eigen::VectorXd by_influence(const Evaluations& all, const Part& part, double usual) {
  Eigen::VectorXd changes(static_cast<Eigen::Index>(all.moved.size()));
  for (std::size_t k = 0; k < all.moved.size(); ++k) {
    const auto moved = all.moved[k].geometry ? part(*all.moved[k].geometry) : std::nullopt;
    changes[static_cast<Eigen::Index>(k)] = moved ? *moved - usual : 0;
  }
  return changes;
}

/// A quantity with its budget: the influences' shares and `u_edge` from the outlines. Before take_influences the
/// budget, and what was learned, lack the influences.
Value quantity(const Evaluations& all, const Asked& asked, double u_edge, const std::optional<RowAgreement>& row) {
  const auto usual = asked.part(all.usual);
  if (!usual) return {};
  Value v{Quantity{*usual + (row ? asked.per_rear_mm * row->rear_x() : 0), {}}, ""};
  const Eigen::VectorXd changes = by_influence(all, asked.part, *usual);
  const Eigen::Index count = changes.size();
  Eigen::VectorXd shares = changes;
  if (row && count > 0) {
    // What each influence, as it is before anything is learned, and the rear ends' noise leave in the value.
    Eigen::VectorXd gradient(count + 1);
    gradient << changes, asked.per_rear_mm;
    const Eigen::VectorXd left = row->covariance * gradient;
    shares = left.head(count);
    u_edge = std::hypot(u_edge, std::sqrt(std::max(0.0, gradient.dot(left) - shares.squaredNorm())));
    v.learned = changes.dot(row->mean.head(count));
  }
  v.quantity->budget.push_back({Source::kEdge, u_edge});
  for (Eigen::Index k = 0; k < count; ++k) {
    v.quantity->budget.push_back({all.moved[static_cast<std::size_t>(k)].source, std::abs(shares[k])});
  }
  // Two places the value may have, one with that chance: this is its root mean square distance from the one given.
  const auto other = all.other_face ? asked.part(*all.other_face) : std::nullopt;
  if (other) {
    const double u = std::sqrt(all.chance_of_other_face) * std::abs(*other - *usual);
    v.quantity->budget.push_back({Source::kDefinition, u});
  }
  return v;
}

/// True where it is in doubt which face looks up and what the two would read is so far apart that no value stands for
/// both: 0.3 mm is half of a gauge's setting.
bool hangs_on_the_face(const Evaluations& all, const Part& part) {
  constexpr double kMostApartMm = 0.3;
  const auto other = all.other_face ? part(*all.other_face) : std::nullopt;
  const auto value = part(all.usual);
  return other && value && std::abs(*other - *value) > kMostApartMm;
}

/// Bounds that no saw-chain cutter's shape leaves, new or worn out; beyond them the outline was misread. Written so
/// that NaN is outside.
bool like_a_cutter(const CutterGeometry& g) {
  // Drop: gauges are set to 0.45 to 0.80 mm (TRADE tables); one that was never lowered stands lower than a plate filed
  // back by 4 mm along a fall of 8 degrees (0.56 mm). Under a broken corner the plate's line still tells its height.
  if (!(g.drop() > -0.15 && g.drop() < 1.8)) return false;
  // Fall of the top plate: 2 to 8 degrees, with the slant that a broken edge or a few millimetres of outline add.
  if (!(g.slope > -0.05 && g.slope < 0.26)) return false;
  // A top is flat: where its outline leaves its height open by a good part of a gauge's setting, it is two things'
  // outline.
  constexpr double kMostUPlateMm = 0.2;
  if (!(g.u_plate < kMostUPlateMm)) return false;
  // Both stand half a pitch to a whole one over the rivets.
  const double pitch = g.rivet_distance;
  if (!(g.plate_high > 0.4 * pitch && g.plate_high < 1.2 * pitch)) return false;
  // The gullet between corner and gauge holds a file of 4 mm and more, less what the gauge's flank leans over it.
  return !g.corner_x || g.gauge_high_x - *g.corner_x > 0.25 * pitch;
}

/// True where the rear end lies where a top plate's can. Else something hid it, and only the length is lost.
bool like_a_rear_end(const CutterGeometry& g) {
  const double pitch = g.rivet_distance;
  return g.rear_x && *g.rear_x > -0.8 * pitch && *g.rear_x < kMostRearAhead * pitch;
}

/// A top plate is 2 mm to a pitch and a quarter long (new ones 9 to 11 mm on 3/8 in).
bool like_a_length(double length_mm, double pitch_mm) { return length_mm > 2 && length_mm < 1.25 * pitch_mm; }

/// Everything that is asked of one cutter.
struct Subject {
  const CutterOutline& outline;
  const CardPose& pose;
  const Setup& setup;
};

/// How much of the top the outline shows, mm.
double top_seen_mm(const CutterOutline& outline, double mm_per_px) { return length_px(outline.top) * mm_per_px; }

/// True where the corner is anywhere along a bevel: from the inner side it lies between the bevel and the camera, and where
/// the top is seen to go on by more than this without a front, the place at which bare steel ends is not the corner.
bool corner_lost(const CutterOutline& outline) {
  constexpr double kMostLostMm = 1;
  return !outline.outer_face_up && outline.lost_front_mm > kMostLostMm;
}

/// True where, from the inner side, the front comes ahead below of where it begins under the top. Under its edge a file
/// cuts back, as far down as half of its radius (a fifth of it stands over the plate, common practice), and a rounded
/// corner of 2 mm comes ahead by 0.4 to 0.55 mm less that (computed). What stands farther ahead is the gullet's wall,
/// and what begins behind it the inner end of a bevel that mirrors the field.
bool front_begins_behind(const CutterOutline& outline, const ChainFrame& frame, double plate_height_mm) {
  constexpr double kBeginningMm = 0.4;
  constexpr double kUnderMm = 1.5;
  constexpr double kMostAheadMm = 0.5;
  if (outline.outer_face_up || outline.front.empty()) return false;
  const double top = frame.at(outline.front.front().px, plate_height_mm).y();
  double begins = -1e9;
  double below = -1e9;
  for (const EdgePoint& e : outline.front) {
    const Point2 at = frame.at(e.px, plate_height_mm);
    if (at.y() < top - kUnderMm) continue;
    double& most = at.y() > top - kBeginningMm ? begins : below;
    most = std::max(most, at.x());
  }
  return below - begins > kMostAheadMm;
}

/// Farther than this a strap stays up, and a gauge's own crown seldom does (by experiment: the study's photographs).
constexpr double kWideCrownMm = 2;

/// True where what passes for the gauge may be a strap's: seen from its inner side, a gauge stands behind the strap
/// that joins its rivets. A strap that rises ahead of the gullet hides it, and then nothing parts its crown from the
/// rivet head, nor goes the strap's edge on under it, nor does it stand up steeply or narrowly as a gauge does.
bool gauge_may_be_hidden(const CutterOutline& outline) {
  constexpr double kNoStrap = 0.15;
  constexpr double kNoEdge = 0.4;
  constexpr double kSteep = 1.3;  // 52 degrees
  const FaceSigns& face = outline.face;
  return !outline.outer_face_up && face.strap_ahead < kNoStrap && face.under_gauge < kNoEdge &&
         face.gauge_flank < kSteep && face.gauge_crown_mm > kWideCrownMm;
}

/// True where from the outer side a strap that rises behind the gauge may stand over it: the skyline comes up no
/// steeper than such a strap does and then stays up over more than a gauge's own crown does there, which is either
/// steep or narrow.
bool strap_may_stand_over_gauge(const CutterOutline& outline) {
  constexpr double kStrapsSlope = 0.58;  // 30 degrees (by experiment: the study's photographs)
  return outline.outer_face_up && outline.face.gauge_flank < kStrapsSlope && outline.face.gauge_crown_mm > kWideCrownMm;
}

/// What a cutter seen from the side gives.
struct Values {
  Value drop_mm, length_mm, slope_rad, hook_rad, rounding_um;
  bool drop_hangs_on_the_face = false;
};

/// Share of `kEdgeBiasPx` and of the rims' rounding that a drop keeps. Seen from its outer side a chisel's top ends in a
/// rim of the same face as the gauge does; a shoulder rounded over a millimetre or two is none. From the inner side the
/// top's rim is the plate's free end, which stands elsewhere in another light.
double rims_unlike(const CutterGeometry& g, const CutterOutline& outline) {
  if (!outline.outer_face_up) return 1;
  return std::sqrt(g.chance_of_shoulder + (1 - g.chance_of_shoulder) * kRimsUnlike * kRimsUnlike);
}

std::optional<double> drop_in(const CutterGeometry& g) { return g.drop(); }

/// Half-way between what the outlines and what steel's own light tell, as far as that does.
std::optional<double> middle_drop_in(const CutterGeometry& g) {
  return g.own_light_drop ? (g.drop() + *g.own_light_drop) / 2 : g.drop();
}

/// How far an outline's place may lie beside the edge, all along it alike.
double bias_of(double px_mm) { return std::hypot(kEdgeBiasPx * px_mm, kURimMm); }

Value drop_of(const Evaluations& all, const CutterOutline& outline, double px_mm,
              const std::optional<RowAgreement>& row) {
  if (gauge_may_be_hidden(outline)) {
    return {{},
            "gauge drop: a tie strap may rise before the depth gauge and hide it: take the cutter from its "
            "outer side"};
  }
  if (strap_may_stand_over_gauge(outline)) {
    return {{},
            "gauge drop: a tie strap may stand over the depth gauge behind it: look at it from nearer the drive links' "
            "side, or use a gauge tool"};
  }
  const CutterGeometry& g = all.usual;
  // What a turn of the rivet line does to the drop: it acts over the distance from plate to gauge.
  const double turned = g.u_rivet_line * (g.gauge_high_x - g.plate_high_x);
  const double bias_mm = bias_of(px_mm);
  const double u_rims = std::sqrt(2.0) * bias_mm * rims_unlike(g, outline);
  const double u_outlines = std::hypot(g.u_plate, g.u_gauge, u_rims);
  // The outlines end where the field's light changes, steel's own light at the near rims: where one is wrong the other
  // seldom is, so that their middle is taken (by experiment: tests/accuracy; weights by what each leaves open did no
  // better). The own light of a dirty top goes on to its far rim: where it ends over the outlines by more than the rims
  // leave open they stand, but may be what is wrong; over a shoulder that hides that rim it is told no worse than they
  // are. Where it ends far under them either may be right.
  const double apart = g.own_light_drop ? *g.own_light_drop - g.drop() : 0;
  const double u_apart = 2 * bias_mm;
  const bool shoulder_seen = outline.outer_face_up && g.shoulder_mm > 0 && g.beyond_top < u_apart;
  const bool both = g.own_light_drop && (apart < u_apart || shoulder_seen);
  Value v = quantity(all, {both ? middle_drop_in : drop_in},
                     std::hypot(both ? std::hypot(u_outlines, u_rims) / 2 : u_outlines, turned), row);
  Quantity& q = *v.quantity;
  if (apart > u_apart) q.budget.push_back({Source::kDefinition, std::min(apart / 2, u_apart)});
  if (apart < -2 * u_apart) q.budget.push_back({Source::kDefinition, -apart / 2});
  // Own light that begins well inside of the outline shows that there is a part that mirrors, and that it is seen; well
  // outside of it, where the shoulder ends.
  if (shoulder_seen && std::abs(apart) < u_apart) {
    q.budget.push_back({Source::kDefinition, g.chance_of_shoulder * kUHiddenShoulderPx * px_mm});
  }
  const HiddenRim hidden = hidden_rim(all);
  q.value -= hidden.mean;
  // The gauge's own rim is too short to be told so.
  if (outline.top_rim_told) q.value -= kMeanRimMm;
  q.budget.push_back({Source::kThickness, hidden.u});
  if (corner_lost(outline)) {
    // The top rises to a corner that lies anywhere along the bevel.
    const double rise = std::max(0.0, g.slope) * outline.lost_front_mm;
    q.value += rise / 2;
    q.budget.push_back({Source::kDefinition, rise / 2 * kRectangular});
  }
  return v;
}

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

const char* const kNoLength = "length: rear end or working corner not seen against the field";

Value length_of(const Evaluations& all, const CutterOutline& outline, double bias_mm, bool lost,
                const std::optional<RowAgreement>& row) {
  const CutterGeometry& g = all.usual;
  const double pitch = g.rivet_distance;
  const Asked alone{[lost, pitch](const CutterGeometry& c) -> std::optional<double> {
    if (lost || !c.corner_x || !like_a_rear_end(c)) return std::nullopt;
    const double length = *c.corner_x - *c.rear_x;
    return like_a_length(length, pitch) ? std::optional(length) : std::nullopt;
  }};
  const Asked with_row{[lost, &row, pitch](const CutterGeometry& c) -> std::optional<double> {
                         if (lost || !c.corner_x || !like_a_length(*c.corner_x - row->rear_x(), pitch)) return {};
                         return c.corner_x;
                       },
                       -1};
  Value v = row ? quantity(all, with_row, std::hypot(g.u_corner_x, bias_mm), row)
                : quantity(all, alone, std::hypot(std::hypot(g.u_corner_x, g.u_rear_x), std::sqrt(2.0) * bias_mm), row);
  if (v.quantity) {
    // The corner lies anywhere along so much of a bevel.
    const double ahead = outline.outer_face_up ? 0 : outline.lost_front_mm;
    v.quantity->value += ahead / 2;
    v.quantity->budget.push_back({Source::kDefinition, ahead / 2 * kRectangular});
    return v;
  }
  return {{},
          lost ? "length: the bevel mirrors the field and hides the working corner: turn the lamp, or take the cutter "
                 "from its outer side"
               : kNoLength};
}

Value rounding_of(const CutterGeometry& g, double blur_mm, double bias_mm) {
  if (!g.tip) return {};
  const auto radius = tip_radius(g.tip->wedge_rad, g.tip->recession, blur_mm);
  if (!radius) return {};
  // The same recession read with the blur a tenth larger, and with its own uncertainty added.
  const double by_blur = std::abs(tip_radius(g.tip->wedge_rad, g.tip->recession, 1.1 * blur_mm).value_or(0) - *radius);
  const double by_edge =
      tip_radius(g.tip->wedge_rad, g.tip->recession + std::hypot(g.tip->u_recession, bias_mm), blur_mm).value_or(0) -
      *radius;
  return {Quantity{1000 * *radius, {{Source::kDefinition, 1000 * by_blur}, {Source::kEdge, 1000 * by_edge}}}, ""};
}

Values values_of(const Evaluations& all, const CutterOutline& outline, double px_mm, bool lost,
                 const std::optional<RowAgreement>& row) {
  const CutterGeometry& g = all.usual;
  const double bias_mm = bias_of(px_mm);
  Values v;
  v.drop_mm = drop_of(all, outline, px_mm, row);
  v.drop_hangs_on_the_face = hangs_on_the_face(all, drop_in);
  v.length_mm = length_of(all, outline, bias_mm, lost, row);
  // The outline's bias is not the same at both ends of the top.
  const double u_tilt = std::sqrt(2.0) * bias_mm / std::max(1.0, top_seen_mm(outline, px_mm));
  v.slope_rad = quantity(all, {[](const CutterGeometry& c) { return c.slope; }},
                         std::hypot(g.u_slope, g.u_rivet_line, u_tilt), row);
  v.hook_rad = quantity(all, {[](const CutterGeometry& c) { return c.hook; }}, g.u_hook, row);
  if (!v.hook_rad.quantity) {
    v.hook_rad.missing = "hook angle: only seen from the side plate's outer face, with the front free down to 1 mm";
  }
  v.rounding_um = rounding_of(g, outline.blur_px * px_mm, bias_mm);
  return v;
}

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
  std::optional<Values> values;    ///< nothing where that makes no cutter's shape either
};

double px_mm_of(const Look& look, const Subject& s) {
  const CutterGeometry& g = look.all->usual;
  const ProfileHeights h = profile_heights(s.setup, look.outline.outer_face_up).usual;
  const ChainFrame frame(s.pose.view, look.outline, h);
  const Point2 corner(g.corner_x.value_or(g.plate_high_x), g.corner_z.value_or(g.plate_high));
  return s.pose.view.mm_per_px(frame.pixel(corner, h.plate_outer), h.plate_outer);
}

/// A look's values, as far as it has been evaluated.
Values values_of(const Look& look, const Subject& s, const std::optional<RowAgreement>& row = {}) {
  const ProfileHeights h = profile_heights(s.setup, look.outline.outer_face_up).usual;
  const ChainFrame frame(s.pose.view, look.outline, h);
  const bool lost = corner_lost(look.outline) || front_begins_behind(look.outline, frame, h.plate_outer);
  return values_of(*look.all, look.outline, px_mm_of(look, s), lost, row);
}

Look measured_look(const Subject& s) {
  Look look{s.outline, evaluate(s.outline, s.pose, s.setup), {}};
  if (look.all && like_a_cutter(look.all->usual)) look.values = values_of(look, s);
  return look;
}

/// The same with a whole budget.
void take_influences(Look& look, const Subject& s) {
  if (look.all->moved.empty()) take_influences(*look.all, look.outline, s.pose, s.setup);
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
std::vector<double> values_in(const std::vector<Look>& looks, Value Values::*which) {
  std::vector<double> values;
  for (const Look& look : looks) {
    if (look.values && ((*look.values).*which).quantity) values.push_back(((*look.values).*which).quantity->value);
  }
  return values;
}

/// Standard deviation of a value over the looks; 0 where fewer than two have it.
double spread(const std::vector<Look>& looks, Value Values::*which) {
  const std::vector<double> values = values_in(looks, which);
  return values.size() < 2 ? 0 : standard_deviation(values);
}

/// The look that stands for all of them, in the budgets and in the drawing: nearest to the medians of drop and length.
/// At least one look has values.
std::size_t typical_of(const std::vector<Look>& looks) {
  constexpr double kMissingMm = 1;
  constexpr std::array kLengths{&Values::drop_mm, &Values::length_mm};
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
Value common_value(std::vector<Look>& looks, Look& typical, Value Values::*which, const Subject& s,
                   const std::optional<RowAgreement>& row) {
  const std::vector<double> values = values_in(looks, which);
  const auto has = [which](const Look& look) { return look.values && ((*look.values).*which).quantity; };
  if (2 * values.size() <= looks.size()) {
    const auto says_why = [which](const Look& look) { return look.values && !((*look.values).*which).missing.empty(); };
    const auto look = std::ranges::find_if(looks, says_why);
    return {{}, look == looks.end() ? "" : ((*look->values).*which).missing};
  }
  Look& look = has(typical) ? typical : *std::ranges::find_if(looks, has);
  take_influences(look, s);
  look.values = values_of(look, s, row);
  const Value& own = (*look.values).*which;
  Quantity common{median(values) + own.learned, own.quantity->budget};
  common.budget.push_back({Source::kEdge, spread(looks, which)});
  return {common, ""};
}

constexpr std::array kAllValues{&Values::drop_mm, &Values::length_mm, &Values::slope_rad, &Values::hook_rad,
                                &Values::rounding_um};

Values common_values(std::vector<Look>& looks, Look& typical, const Subject& s,
                     const std::optional<RowAgreement>& row) {
  for (Look& look : looks) {
    if (look.values) look.values = values_of(look, s, row);
  }
  Values common;
  for (const auto which : kAllValues) common.*which = common_value(looks, typical, which, s, row);
  const auto hangs = [](const Look& look) { return look.values && look.values->drop_hangs_on_the_face; };
  if (common.drop_mm.quantity && std::ranges::any_of(looks, hangs)) {
    common.drop_mm = {{},
                      "gauge drop: not told which side of the cutter looks at the camera: put the top plates under the "
                      "middle of the picture, or turn the lamp"};
  }
  // A sixth of a gauge's setting: looks that differ by more took different things for the outline.
  constexpr double kMostSpreadMm = 0.1;
  if (common.drop_mm.quantity && spread(looks, &Values::drop_mm) > kMostSpreadMm) {
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
  const double spread = places.size() < 2 ? 0 : standard_deviation(places);
  place.x = median(places);
  place.u = std::hypot(all.usual.u_rear_x, bias_of(px_mm_of(typical, s)), spread);
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
  const Values common = common_values(seen.looks, typical, s, row);
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
  const Point2 corner(g.corner_x.value_or(g.plate_high_x), g.corner_z.value_or(g.plate_high));
  m.corner_px = frame.pixel(corner, h.plate_outer);
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
