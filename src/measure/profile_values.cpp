#include "measure/profile_values.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "math/rectangular.h"
#include "math/statistics.h"
#include "measure/profile_heights.h"

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

/// How likely the cutter shows its other face; not at all where that is less likely than u95 leaves any value out.
double chance_of_other_face(const CutterOutline& cutter) {
  constexpr double kClear = 0.05;
  return cutter.chance_of_other_face < kClear ? 0 : cutter.chance_of_other_face;
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

/// What is asked of a cutter and how it depends on what the cutters of its picture agree on.
struct Asked {
  GeometryPart part;
  double per_rear_mm = 0;  ///< its change with the place of the common rear end
};

/// A quantity with its budget: the influences' shares and `u_edge` from the outlines. Before take_influences the
/// budget, and what was learned, lack the influences.
ProfileValue quantity(const Evaluations& all, const Asked& asked, double u_edge,
                      const std::optional<RowAgreement>& row) {
  const auto usual = asked.part(all.usual);
  if (!usual) return {};
  ProfileValue v{Quantity{*usual + (row ? asked.per_rear_mm * row->rear_x() : 0), {}}, ""};
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
bool hangs_on_the_face(const Evaluations& all, const GeometryPart& part) {
  constexpr double kMostApartMm = 0.3;
  const auto other = all.other_face ? part(*all.other_face) : std::nullopt;
  const auto value = part(all.usual);
  return other && value && std::abs(*other - *value) > kMostApartMm;
}

/// A top plate is 2 mm to a pitch and a quarter long (new ones 9 to 11 mm on 3/8 in).
bool like_a_length(double length_mm, double pitch_mm) { return length_mm > 2 && length_mm < 1.25 * pitch_mm; }

/// How much of the top the outline shows, mm.
double top_seen_mm(const CutterOutline& outline, double mm_per_px) { return length_px(outline.top) * mm_per_px; }

/// True where the corner is anywhere along a bevel: from the inner side it lies between the bevel and the camera, and
/// where the top is seen to go on by more than this without a front, the place at which bare steel ends is not the
/// corner.
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

/// Share of `kEdgeBiasPx` and of the rims' rounding that a drop keeps. Seen from its outer side a chisel's top ends in
/// a rim of the same face as the gauge does; a shoulder rounded over a millimetre or two is none. From the inner side
/// the top's rim is the plate's free end, which stands elsewhere in another light.
double rims_unlike(const CutterGeometry& g, const CutterOutline& outline) {
  if (!outline.outer_face_up) return 1;
  return std::sqrt(g.chance_of_shoulder + (1 - g.chance_of_shoulder) * kRimsUnlike * kRimsUnlike);
}

std::optional<double> drop_in(const CutterGeometry& g) { return g.drop(); }

/// Half-way between what the outlines and what steel's own light tell, as far as that does.
std::optional<double> middle_drop_in(const CutterGeometry& g) {
  return g.own_light_drop ? (g.drop() + *g.own_light_drop) / 2 : g.drop();
}

ProfileValue drop_of(const Evaluations& all, const CutterOutline& outline, double px_mm,
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
  ProfileValue v = quantity(all, {both ? middle_drop_in : drop_in},
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

ProfileValue length_of(const Evaluations& all, const CutterOutline& outline, double bias_mm, bool corner_is_hidden,
                       const std::optional<RowAgreement>& row) {
  if (corner_is_hidden) {
    return {{},
            "length: the bevel mirrors the field and hides the working corner: turn the lamp, or take the cutter from "
            "its outer side"};
  }
  const CutterGeometry& g = all.usual;
  const double pitch = g.rivet_distance;
  const Asked alone{[pitch](const CutterGeometry& c) -> std::optional<double> {
    if (!c.corner_x || !like_a_rear_end(c) || !like_a_length(*c.corner_x - *c.rear_x, pitch)) return std::nullopt;
    return *c.corner_x - *c.rear_x;
  }};
  const Asked with_row{[&row, pitch](const CutterGeometry& c) -> std::optional<double> {
                         if (!c.corner_x || !like_a_length(*c.corner_x - row->rear_x(), pitch)) return std::nullopt;
                         return c.corner_x;
                       },
                       -1};
  ProfileValue v =
      row ? quantity(all, with_row, std::hypot(g.u_corner_x, bias_mm), row)
          : quantity(all, alone, std::hypot(std::hypot(g.u_corner_x, g.u_rear_x), std::sqrt(2.0) * bias_mm), row);
  if (!v.quantity) return {{}, kNoLength};
  // The corner lies anywhere along so much of a bevel.
  const double ahead = outline.outer_face_up ? 0 : outline.lost_front_mm;
  v.quantity->value += ahead / 2;
  v.quantity->budget.push_back({Source::kDefinition, ahead / 2 * kRectangular});
  return v;
}

ProfileValue rounding_of(const CutterGeometry& g, double blur_mm, double bias_mm) {
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

}  // namespace

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

Eigen::VectorXd by_influence(const Evaluations& all, const GeometryPart& part, double usual) {
  Eigen::VectorXd changes(static_cast<Eigen::Index>(all.moved.size()));
  for (std::size_t k = 0; k < all.moved.size(); ++k) {
    const auto moved = all.moved[k].geometry ? part(*all.moved[k].geometry) : std::nullopt;
    changes[static_cast<Eigen::Index>(k)] = moved ? *moved - usual : 0;
  }
  return changes;
}

bool like_a_cutter(const CutterGeometry& g) {
  // Written so that NaN is outside.
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

bool like_a_rear_end(const CutterGeometry& g) {
  const double pitch = g.rivet_distance;
  return g.rear_x && *g.rear_x > -0.8 * pitch && *g.rear_x < kMostRearAhead * pitch;
}

bool corner_hidden(const CutterOutline& outline, const ChainFrame& frame, double plate_height_mm) {
  return corner_lost(outline) || front_begins_behind(outline, frame, plate_height_mm);
}

double bias_of(double px_mm) { return std::hypot(kEdgeBiasPx * px_mm, kURimMm); }

ProfileValues values_of(const Evaluations& all, const CutterOutline& outline, double px_mm, bool corner_is_hidden,
                        const std::optional<RowAgreement>& row) {
  const CutterGeometry& g = all.usual;
  const double bias_mm = bias_of(px_mm);
  ProfileValues v;
  v.drop_mm = drop_of(all, outline, px_mm, row);
  v.drop_hangs_on_the_face = hangs_on_the_face(all, drop_in);
  v.length_mm = length_of(all, outline, bias_mm, corner_is_hidden, row);
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

}  // namespace glintline
