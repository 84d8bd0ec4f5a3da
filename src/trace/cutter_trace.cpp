#include "trace/cutter_trace.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "base/text.h"
#include "math/line_fit.h"
#include "math/statistics.h"
#include "trace/bevel.h"
#include "trace/cutter_face.h"
#include "trace/cutter_scene.h"
#include "trace/faint_rim.h"
#include "trace/landmarks.h"
#include "trace/lumps.h"
#include "trace/near_rim.h"
#include "trace/outline_sight.h"
#include "trace/own_light.h"
#include "trace/strap_outline.h"

namespace glintline {

namespace {

/// Outlines softer than this are not measured: rounded ends and corners shrink by about the blur, which no flank fit
/// gives back (a sharp tip recedes by about its blur; by experiment: 3 pixels make a cutter 0.2 mm longer). A card
/// that is soft as well makes it a small picture, not one focused elsewhere.
constexpr double kMostBlurPx = 2.8;
constexpr double kMostBlurRatio = 2.0;

/// Parallel samples either side that are averaged: seven in all blur a plate's fall by less than a third of a pixel and
/// leave a JPEG's noise a third of what it is.
constexpr int kHalfWidth = 3;

/// Top plates are 4 to 6.5 mm wide (from memory).
constexpr double kNarrowestPlateMm = 4;
constexpr double kWidestPlateMm = 6.5;

/// Side plates are stamped from sheet of 1.1 to 1.6 mm (trade tables for drive links); a gauge filed 2 degrees out of
/// square (from memory) shows so much of its upper side more than that, and rims are rounded by up to 0.2 mm (from
/// memory).
constexpr double kThinnestPlateMm = 1.1;
constexpr double kThickestPlateMm = 1.6;
constexpr double kOutOfSquareMm = 0.06 + 0.06;

/// How far a rounded shoulder or rim turns away from the light before the outline: of a radius of up to about 2 mm
/// (rounded corners, from memory) the part whose normal lies more than 45 degrees from the sight line mirrors what lies
/// below, (1 - sin 45°) r.
constexpr double kMostTintedMm = 0.6;

/// A rim rounded by 0.25 mm (stamped, tumbled and worn; from memory) mirrors what lies below over so much.
constexpr double kMirroringRimMm = 0.07;

/// Of a gauge so much under its crown is followed.
constexpr double kGaugeTopMm = 0.45;
/// And so much under it tells how flat the crown is.
constexpr double kFlatCrownMm = 0.2;

/// Rivets and links are there, so it is a cutter from the side, and no other view need be tried.
Error hidden_plate() {
  return {Fault::kNotMeasurable,
          "no top plate can be told from the field it lies over: brush the cutter clean, turn the lamp, and look "
          "straight down on the card",
          {}};
}

/// How far under the top's line the front outline first stands foremost, pixels.
double foremost_under(const std::vector<Point2>& front, const Line2& top) {
  std::optional<Point2> best;
  for (const Point2& p : front) {
    if (!best || p.x() > best->x()) best = p;
    if (p.x() < best->x() - 4) break;
  }
  return best ? best->y() - on_line(top, best->x()).y() : 0;
}

/// By how much the top's outline bends down, in the square-on picture, where it passes from the plate's near end to its
/// slanting edge: the sight line's slope about the chain over the tangent of the edge's angle (25 to 35 degrees).
double edge_bend(const CardPose& pose, const CutterScene& s, const CutterFrame& cutter, const Point2& crown_px) {
  constexpr double kEdgeTangent = 0.577;
  const Point2 shift =
      pose.view.at_height(crown_px, s.frame.height_mm + 1) - pose.view.at_height(crown_px, s.frame.height_mm);
  return std::abs(shift.dot(cutter.up)) / kEdgeTangent;
}

EdgePoint in_photo(const CutterScene& s, const CardPose& pose, const Point2& at) {
  // Scatter of a single crossing on clean edges; measure widens it by what its fits see.
  constexpr double kSinglePx = 0.15;
  return {pose.view.pixel(s.frame.board(at.x(), at.y())), kSinglePx};
}

Error out_of_focus(double blur_px) {
  return {Fault::kBlurred,
          "the cutter is out of focus (its edges are " + fixed(2 * blur_px, 0) +
              " pixels wide): focus on the cutter, not on the card, and hold still",
          {}};
}

/// Traces one cutter part by part.
class CutterTracer {
 public:
  CutterTracer(const CutterScene& scene, const CardPose& pose, const CutterFrame& cutter, std::vector<int> top,
               Landmarks marks)
      : s_(scene), pose_(pose), cutter_(cutter), top_(std::move(top)), m_(std::move(marks)),
        crown_(pose.view.pixel(scene.frame.board(m_.gauge, top_[m_.gauge]))),
        sight_slope_((pose.view.at_height(crown_, cutter.height_mm + 1) - pose.view.at_height(crown_, cutter.height_mm))
                         .dot(cutter.up)) {}

  /// `first`: of all looks; what they agree on to a hundredth of a millimetre it alone takes.
  Result<CutterOutline> trace(bool first) {
    std::vector<Point2> plate = plate_outline();
    if (plate.size() < 8) return hidden_plate();
    plate_line_ = line_so_far(s_, plate, m_.plate_line);
    std::vector<Point2> front = bevel_outline(plate);
    const bool bevel = !front.empty();
    CutterOutline out;
    out.lost_front_mm = lost_front_mm_;
    out.top = photographed(plate);
    out.top_rim_told = top_rim_told_;
    out.top_near_rim = top_near_rim_;
    out.top_bare = photographed(top_bare_);
    const std::vector<Point2> gauge = gauge_outline();
    out.gauge = photographed(gauge);
    out.gauge_near_rim = gauge_near_rim_;
    if (first) {
      out.top_own_light = photographed(own_light_of_top(plate));
      out.gauge_own_light = photographed(own_light_of_gauge(gauge));
    }
    // A gauge's crown is a third of a new plate's length (from memory); longer than the top it is another cutter's
    // plate, or this one's seen the wrong way round.
    if (length_px(out.gauge) > length_px(out.top)) return hidden_plate();
    if (!bevel) front = front_outline();
    out.front = photographed(front);
    out.rear = photographed(rear_outline());
    out.rear_near_rim = rear_near_rim_;
    if (blurs_.empty()) return hidden_plate();
    const StrapOutline strap = strap_outline(s_);
    const auto [crown_from, crown_to] = crown_columns(kGaugeTopMm);
    const auto [flat_from, flat_to] = crown_columns(kFlatCrownMm);
    const PlateStretch whole = whole_plate();
    const double top_mm = kWidestPlateMm * std::max(0.0, sight_slope_);
    out.face = {.bevel = bevel,
                .strap = strap.seen,
                .strap_ahead = edge_ahead(s_, strap),
                .under_gauge = edge_under(s_, Point2(0.5 * (crown_from + crown_to), top_[m_.gauge])),
                .gauge_flank = flank_slope(s_, top_, m_.gullet, m_.gauge),
                .gauge_crown_mm = (flat_to - flat_from) * s_.frame.mm_per_px,
                .underside = underside_edge(s_, whole, top_mm),
                .recess = recess_under(s_, whole, top_mm),
                .shoulder_mm = foremost_under(front, plate_line_) * s_.frame.mm_per_px};
    out.blur_px = median(blurs_) * s_.frame.mm_per_px / pose_.view.mm_per_px(crown_, cutter_.height_mm);
    if (out.blur_px > std::max(kMostBlurPx, kMostBlurRatio * pose_.blur_px)) return out_of_focus(out.blur_px);
    return out;
  }

 private:
  /// What a part can show that mirrors the field or has light of its own, samples.
  struct Strips {
    double expected = 0;  ///< a top seen over its whole width
    double tinted = 0;    ///< a rounding that turns away from the light
    double most = 1e9;    ///< any wider one that mirrors the field is a shadow's
  };

  void look(const Point2& coarse, const Point2& inwards, const Strips& strips) {
    auto sighting = sight(s_, coarse, inwards, kHalfWidth, strips.expected, strips.tinted);
    if (!sighting || (!sighting->rise && !sighting->drop)) return;
    // Before bare steel a soft fall of the field's light is its shaded foot; without any, all that shows of an edge.
    const bool no_steel = sighting->soft_drop || sighting->mirror > strips.most;
    if (sighting->rise && no_steel && !sighting->steel_strip) {
      sighting->drop.reset();
      sighting->mirror = 0;
    }
    seen_.push_back(*sighting);
    blurs_.push_back(sighting->blur);
  }

  /// The outline through what was looked at since the last time.
  std::vector<Point2> settle(const MirrorStrip& strip) {
    std::vector<Point2> points = settled(s_, seen_, strip);
    seen_.clear();
    return points;
  }

  /// The narrowest strip that counts at the plate's ends.
  [[nodiscard]] double least_strip_px() const { return sight_slope_ > 0 ? kLeastMirrorPx : kLeastBevelPx; }

  /// The same at a top's rim, where such a strip is no rare thing in a picture that shows the rim's rounding.
  [[nodiscard]] double least_rim_px() const {
    constexpr double kLeastRimPx = 3;
    const double rim_px = s_.px(kMirroringRimMm) * s_.px_per_sample;
    return rim_px < kLeastRimPx ? least_strip_px() : std::min(least_strip_px(), kLeastRimPx);
  }

  [[nodiscard]] std::vector<EdgePoint> photographed(const std::vector<Point2>& points) const {
    std::vector<EdgePoint> edge;
    for (const Point2& at : points) edge.push_back(in_photo(s_, pose_, at));
    return edge;
  }

  std::vector<Point2> plate_outline() {
    // A top seen from above may mirror the field as far as it is seen. A narrow one lies within every profile's reach.
    const bool far = s_.px(kNarrowestPlateMm * sight_slope_) > usual_reach(s_);
    const double strip = far ? s_.px(kWidestPlateMm * sight_slope_) : 0;
    for (int x = m_.plate_from; x <= m_.plate_to; x += 2) {
      look({static_cast<double>(x), std::round(on_line(m_.plate_line, x).y())}, {0, 1},
           {.expected = strip, .tinted = s_.px(kMostTintedMm)});
    }
    foremost_ = m_.plate_to;
    const std::vector<Point2> bare = bare_steel();
    std::vector<Point2> outline = settle({least_rim_px(), kLeastTopShare * strip});
    if (!far) {
      std::vector<Point2> rim =
          faint_rim(s_, outline, s_.px(kMostTintedMm + kWidestPlateMm * std::max(0.0, sight_slope_)));
      top_rim_told_ = !rim.empty();
      if (top_rim_told_) return rim;
    }
    if (!(sight_slope_ > 0) || far_rim_told(outline, bare)) return outline;
    if (const auto chance = top_near_rim_chance(bare)) {
      top_near_rim_ = *chance;
      top_bare_ = bare;
    }
    return outline;
  }

  /// Where a bevel that mirrors the field goes on before the bare steel: its front, the plate's outline continued along
  /// it. Nothing where there is none; without a front of its own what was followed may as well be a shadow's rim.
  std::vector<Point2> bevel_outline(std::vector<Point2>& plate) {
    constexpr std::size_t kLeastFront = 5;
    // Where the top's own edge is lost, the front may stand on farther ahead, but not as far as a shadow's does. There,
    // as well as where of a long edge only scraps were seen, much of the light falls at once, as it does at no shadow.
    constexpr double kMostLostMm = 2;
    constexpr double kFarAheadMm = 0.5;
    // By experiment: the study's photographs.
    constexpr double kLongMm = 1;
    constexpr double kLeastSeen = 0.6;
    constexpr double kMostlySeen = 0.5;  // less is a shadow's rim
    constexpr double kLeastAtOnce = 0.4;
    std::vector<Point2> with_bevel = plate;
    const int followed = follow_bevel(s_, m_, edge_bend(pose_, s_, cutter_, crown_), with_bevel);
    if (followed <= m_.plate_to + s_.px(0.3) || !mirrors_field(s_, plate_line_, m_.plate_to, followed)) return {};
    std::vector<Point2> front = bevel_front(s_, m_, plate_line_, followed);
    if (front.size() < kLeastFront) {
      lost_front_mm_ = (followed - m_.plate_to) * s_.frame.mm_per_px;
      return {};
    }
    const double ahead = front.front().x() - followed;
    const double columns = followed - m_.plate_to;
    const double seen = 2.0 * static_cast<double>(with_bevel.size() - plate.size()) / columns;
    const bool in_doubt = ahead > s_.px(kFarAheadMm) || (columns > s_.px(kLongMm) && seen < kLeastSeen);
    if (ahead > s_.px(kMostLostMm) || (in_doubt && falls_at_once(s_, front) < kLeastAtOnce)) {
      if (seen > kMostlySeen) lost_front_mm_ = columns * s_.frame.mm_per_px;
      return {};
    }
    plate = std::move(with_bevel);
    foremost_ = std::max(followed, static_cast<int>(front.front().x()));
    return front;
  }

  /// Columns about the gauge's crown that stand less than `under` mm under it.
  [[nodiscard]] std::pair<int, int> crown_columns(double under) const {
    const int floor = top_[m_.gauge] + static_cast<int>(s_.px(under));
    int from = m_.gauge;
    int to = m_.gauge;
    while (from > m_.gullet && top_[from - 1] < floor) --from;
    while (to + 1 < s_.picture.cols && top_[to + 1] < floor) ++to;
    return {from, to};
  }

  /// Where a column shows light that is not the field's under the skyline; nothing where it does not.
  [[nodiscard]] std::optional<int> steel_under_skyline(int x) const {
    constexpr int kInARow = 3;  // single ones are the picture's grain
    int steel = 0;
    for (int y = top_[x]; y < s_.picture.rows; ++y) {
      steel = s_.field->differs(s_.picture.at<cv::Vec3b>(y, x)) ? steel + 1 : 0;
      if (steel == kInARow) return y + 1 - kInARow;
    }
    return std::nullopt;
  }

  /// A gauge turns its face to the camera, so that nothing that mirrors the field stands higher over its steel than
  /// `most`: what does is a shadow's rim, at which the flood stopped. There the crown is where the steel begins.
  void leave_shadows(double most) {
    for (bool left = true; left;) {
      left = false;
      const auto [from, to] = crown_columns(kGaugeTopMm);
      std::vector<int> steel;  // where none is seen, below the picture
      for (int x = from; x <= to; ++x) steel.push_back(steel_under_skyline(x).value_or(s_.picture.rows));
      const int crown = *std::ranges::min_element(steel);
      for (int x = from; x <= to && crown < s_.picture.rows; ++x) {
        if (top_[x] >= crown - most) continue;
        top_[x] = steel[x - from];
        left = true;
      }
      for (int x = from; left && x <= to; ++x) {
        if (!m_.lumps[x] && top_[x] < top_[m_.gauge]) m_.gauge = x;
      }
    }
  }

  /// Looks at all of the gauge's crown. out: more of its columns show an outline than do not.
  bool look_along_crown(const Strips& strips) {
    const auto [from, to] = crown_columns(kGaugeTopMm);
    for (int x = from; x <= to; x += 2) {
      if (!m_.lumps[x]) look(Point2(x, top_[x]), {0, 1}, strips);
    }
    return 4 * static_cast<int>(seen_.size()) > to - from;
  }

  /// Of what was looked at since the last time the place farthest to the front.
  [[nodiscard]] Point2 foremost_seen() const {
    const OutlineSighting& last = seen_.back();
    return last.rise ? *last.rise : *last.drop;
  }

  std::vector<Point2> gauge_outline() {
    const double most = s_.px(kThickestPlateMm * std::abs(sight_slope_) + kOutOfSquareMm) + s_.blur;
    // A top seen from above may mirror the field as far as it is seen.
    const double strip = sight_slope_ > 0 && most > usual_reach(s_) ? most : 0;
    const Strips strips{.expected = strip, .tinted = s_.px(kMostTintedMm), .most = most};
    leave_shadows(most);
    if (!look_along_crown(strips) && !seen_.empty()) {
      // The rim of a shadow, at which the flood stopped, may stand over the gauge and hide the rest of its crown.
      const int shadow = std::exchange(m_.gauge, static_cast<int>(foremost_seen().x()));
      const auto few = std::exchange(seen_, {});
      look_along_crown(strips);
      if (seen_.size() < 2 * few.size()) {
        m_.gauge = shadow;
        seen_ = few;
      }
    }
    const std::vector<Point2> bare = bare_steel();
    std::vector<Point2> outline = settle({least_rim_px(), 0});
    if (!(sight_slope_ > 0) || far_rim_told(outline, bare)) return outline;
    const auto chance = gauge_near_rim_chance(bare);
    if (!chance) return outline;
    gauge_near_rim_ = *chance;
    return bare;
  }

  /// Where what was looked at since the last time shows bare steel.
  [[nodiscard]] std::vector<Point2> bare_steel() const {
    std::vector<Point2> bare;
    for (const OutlineSighting& seen : seen_) {
      if (seen.rise) bare.push_back(*seen.rise);
    }
    return bare;
  }

  [[nodiscard]] RimBlur rim_blur() const {
    // The file's coarser colour: blocks of two pixels, whose standard deviation is 0.58, smoothed.
    constexpr double kColourPx = 0.7;
    return {s_.blur, kColourPx / s_.px_per_sample};
  }

  /// How far outwards of a near rim its top reaches, and some field.
  [[nodiscard]] double over_top(const SeenTop& top) const { return top.width + 3 * top.u + 5 * s_.blur + 3; }

  /// Chance that bare steel begins at the plate's near rim. fails (nothing): it begins along no straight line, or too
  /// little of the plate is seen over its whole width.
  [[nodiscard]] std::optional<double> top_near_rim_chance(const std::vector<Point2>& bare) const {
    constexpr int kLeastColumns = 12;
    // What wanders more than a plate's rim does is a mirror's image, or dirt.
    constexpr double kStraightMm = 0.06;
    constexpr double kStraightPx = 2;
    constexpr double kLeastAgree = 0.75;
    constexpr double kUShoulderMm = 0.5;  // a rounded shoulder takes 0 to 2 mm (from memory) of the plate's width
    const auto fit = fit_line(bare, {.loss = Loss::kTukey, .least_sigma = 0.5});
    if (!fit.ok()) return std::nullopt;
    const auto agree = std::ranges::count_if(bare, [&](const Point2& p) {
      return std::abs(fit->line.distance(p)) < std::max(kStraightPx, s_.px(kStraightMm));
    });
    if (static_cast<double>(agree) < kLeastAgree * static_cast<double>(bare.size())) return std::nullopt;
    const SeenTop top = seen_top(sight_slope_, kUShoulderMm);
    const PlateStretch whole = whole_plate();
    return near_rim_chance(s_, {fit->line, whole.from, whole.to}, top, kLeastColumns);
  }

  /// Chance that what was seen along a straight stretch of outline is its near rim, from the light on either side of
  /// it. fails (nothing): fewer than `least` of its columns, or too near the picture's border.
  [[nodiscard]] std::optional<double> near_rim_chance(const CutterScene& scene, const PlateStretch& outline,
                                                      const SeenTop& top, int least) const {
    const auto crossing = [&](int x) { return std::optional(on_line(outline.top, x).y()); };
    const auto light = light_across(scene, {outline.from, outline.to, crossing}, -over_top(top), over_top(top), least);
    return light ? std::optional(chance_of_near_rim(*light, top, rim_blur())) : std::nullopt;
  }

  /// How much is seen of what lies between the plate's two sides, for each mm of which the sight line falls by `slope`;
  /// `u_side`: of where its sides begin, mm.
  [[nodiscard]] SeenTop seen_top(double slope, double u_side) const {
    const double width = 0.5 * (kNarrowestPlateMm + kWidestPlateMm);
    const double u_width = std::hypot((kWidestPlateMm - kNarrowestPlateMm) / std::sqrt(12.0), u_side);
    return {s_.px(width * slope), s_.px(u_width * slope)};
  }

  /// How far from an outline a rim may lie that is `wide` mm before or behind another, samples.
  [[nodiscard]] double rims_reach(double wide) const {
    constexpr double kRoundedMm = 0.3;
    constexpr double kBlurs = 6;
    return s_.px(kRoundedMm + wide * std::abs(sight_slope_)) + kBlurs * s_.blur;
  }

  [[nodiscard]] std::vector<Point2> own_light_of_top(const std::vector<Point2>& outline) const {
    constexpr int kStretches = 8;
    const auto crossing = [&](int x) { return std::optional(on_line(plate_line_, x).y()); };
    const OutlineColumns columns{static_cast<int>(outline.front().x()), static_cast<int>(outline.back().x()), crossing};
    return own_light_begins(s_, columns, kStretches, rims_reach(kWidestPlateMm));
  }

  [[nodiscard]] std::vector<Point2> own_light_of_gauge(const std::vector<Point2>& outline) const {
    constexpr double kStretchMm = 0.1;
    constexpr double kLeastStretch = 5;  // columns
    const auto columns = crest_columns(s_, outline);
    if (!columns) return {};
    const double stretch = std::max(kLeastStretch, s_.px(kStretchMm));
    return own_light_begins(s_, *columns, std::max(1, static_cast<int>((columns->to - columns->from) / stretch)),
                            rims_reach(kThickestPlateMm));
  }

  /// True where most of an outline is not where bare steel begins, but before it.
  static bool far_rim_told(const std::vector<Point2>& outline, const std::vector<Point2>& bare) {
    constexpr double kMost = 0.6;
    const auto before = std::count_if(outline.begin(), outline.end(), [&](const Point2& p) {
      return std::find(bare.begin(), bare.end(), p) == bare.end();
    });
    return static_cast<double>(before) > kMost * static_cast<double>(outline.size());
  }

  /// Chance that bare steel begins at the gauge's near rim. fails (nothing): its crest is not seen well enough.
  [[nodiscard]] std::optional<double> gauge_near_rim_chance(const std::vector<Point2>& bare) const {
    // Of a rim rounded by 0.1 mm (from memory) the part that mirrors what lies below, (1 - sin 45°) r: half of it, give
    // or take as much.
    constexpr double kRoundedMm = 0.03;
    const double thickness = 0.5 * (kThinnestPlateMm + kThickestPlateMm);
    const double u_thickness = (kThickestPlateMm - kThinnestPlateMm) / std::sqrt(12.0);
    constexpr double kUOutOfSquareMm = 0.027;  // 2 degrees either way (from memory) over that thickness
    const SeenTop top{s_.px(thickness * sight_slope_ + 0.5 * kRoundedMm),
                      s_.px(std::hypot(u_thickness * sight_slope_, kUOutOfSquareMm, 0.5 * kRoundedMm))};
    const auto light = crest_light(s_, bare, -over_top(top), 3 * s_.blur + 2);
    if (!light) return std::nullopt;
    return chance_of_near_rim(*light, top, rim_blur());
  }

  std::vector<Point2> front_outline() {
    const int top = static_cast<int>(on_line(plate_line_, foremost_).y());
    std::vector<int> front;
    for (int y = top + 1; y < top + s_.px(2.4) && y < s_.picture.rows; ++y) {
      const auto* row = s_.solid.ptr<uchar>(y);
      int x = m_.gullet;
      while (x > m_.plate_from && !row[x]) --x;
      if (x == m_.gullet) break;  // below the gullet's ground
      front.push_back(x);
    }
    const std::vector<bool> crumb = crumbs_before(s_, front, top + 1);
    for (std::size_t k = 0; k < front.size(); k += 2) {
      if (!crumb[k]) look(Point2(front[k], top + 1 + static_cast<int>(k)), {-1, 0}, {});
    }
    return settle({least_strip_px(), 0});
  }

  /// The rear end's outline. Seen from behind, the end's face may mirror the field as far as it is seen.
  std::vector<Point2> rear_outline() {
    const double slope = rear_slope();
    std::vector<Point2> outline = rear_before(0);
    if (s_.px(kNarrowestPlateMm * slope) > usual_reach(s_)) {
      std::vector<Point2> mirrored = rear_before(s_.px(kWidestPlateMm * slope));
      return 2 * mirrored.size() > outline.size() ? mirrored : outline;
    }
    if (slope > 0) rear_near_rim_ = rear_near_rim_chance(outline, slope).value_or(0);
    return outline;
  }

  /// Chance that the rear end's outline is its near rim, beside which a narrow strip of the end's face looks like the
  /// field. fails (nothing): it runs along no straight line, or too near the picture's border.
  [[nodiscard]] std::optional<double> rear_near_rim_chance(const std::vector<Point2>& outline, double slope) const {
    constexpr int kLeastRows = 8;
    // Between the rounded rim and the underside of a thin plate, below which the side plate ends.
    constexpr double kFromMm = 0.3;
    constexpr double kToMm = 1.1;
    std::vector<Point2> turned;
    for (const Point2& p : outline) turned.emplace_back(p.y(), p.x());
    const auto fit = fit_line(turned, {.loss = Loss::kTukey, .least_sigma = 0.5});
    if (!fit.ok()) return std::nullopt;
    const SeenTop face = seen_top(slope, 0);
    const double reach = over_top(face);
    const double top = on_line(plate_line_, m_.plate_from).y();
    const int from = static_cast<int>(top + s_.px(kFromMm));
    const int to = static_cast<int>(top + s_.px(kToMm));
    // The end stands upright: it is looked at lying on its side.
    const double middle = on_line(fit->line, 0.5 * (from + to)).y();
    const double bend = std::abs(on_line(fit->line, to).y() - on_line(fit->line, from).y());
    const int first = std::max(0, static_cast<int>(middle - reach - bend) - 2);
    const int last = std::min(s_.picture.cols, static_cast<int>(middle + reach + bend) + 3);
    if (last - first < 3) return std::nullopt;
    CutterScene side = s_;
    cv::transpose(s_.picture.colRange(first, last), side.picture);
    Line2 line = fit->line;
    line.point.y() -= first;
    return near_rim_chance(side, {line, from, to}, face, kLeastRows);
  }

  /// The same where a strip of up to `mirror` samples before bare steel may mirror the field.
  std::vector<Point2> rear_before(double mirror) {
    const int from = static_cast<int>(on_line(plate_line_, m_.plate_from).y());
    for (int y = from + 1; y < from + s_.px(1.6) && y < s_.picture.rows; y += 2) {
      const auto* row = s_.solid.ptr<uchar>(y);
      int x = s_.column(-0.75);
      while (x < m_.plate_to && !row[x]) ++x;
      look(Point2(x, y), {1, 0}, {.expected = mirror});
    }
    return settle({least_strip_px(), kLeastTopShare * mirror});
  }

  /// How far the sight line at the plate's rear end passes over the card, towards the rear, for each mm that it falls.
  [[nodiscard]] double rear_slope() const {
    const Point2 at = on_line(plate_line_, m_.plate_from);
    const Point2 px = pose_.view.pixel(s_.frame.board(at.x(), at.y()));
    const Point2 along = (cutter_.front_rivet_mm - cutter_.rear_rivet_mm).normalized();
    const double h = cutter_.height_mm;
    return (pose_.view.at_height(px, h) - pose_.view.at_height(px, h + 1)).dot(along);
  }

  /// Behind the edge's inner end, which lies about 3 mm behind the corner, the plate is seen over its whole width.
  [[nodiscard]] PlateStretch whole_plate() const {
    const int to = std::max(foremost_ - static_cast<int>(s_.px(3.3)), m_.plate_from + static_cast<int>(s_.px(1.4)));
    return {plate_line_, m_.plate_from + static_cast<int>(s_.px(0.4)), std::min(to, foremost_)};
  }

  const CutterScene& s_;
  const CardPose& pose_;
  const CutterFrame& cutter_;
  std::vector<int> top_;
  Landmarks m_;
  Point2 crown_;        ///< of the gauge, photograph's pixels
  double sight_slope_;  ///< how far the sight line passes over the card, towards the tops, for each mm that it rises
  std::vector<OutlineSighting> seen_;
  std::vector<double> blurs_;
  Line2 plate_line_;
  int foremost_ = 0;  ///< last column of the plate
  double lost_front_mm_ = 0;
  double gauge_near_rim_ = 0;
  double top_near_rim_ = 0;
  double rear_near_rim_ = 0;
  std::vector<Point2> top_bare_;
  bool top_rim_told_ = false;
};

constexpr int kLooks = 3;
/// What its samples are moved by at each look, picture pixels.
const std::array<Point2, kLooks> kShifts = {Point2(0, 0), Point2(0.5, 0.5), Point2(1, 0.25)};

Result<CutterOutline> traced(const CutterScene& scene, const CardPose& pose, const CutterFrame& cutter, bool first) {
  std::vector<int> top = skyline(scene.solid);
  auto marks = find_landmarks(scene, top);
  if (!marks) return hidden_plate();
  return CutterTracer(scene, pose, cutter, std::move(top), std::move(*marks)).trace(first);
}

Result<CutterOutline> look(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                           const CutterFrame& cutter, int which) {
  CutterScene scene = make_cutter_scene(bgr, pose, field, cutter, kShifts[which]);
  auto outline = traced(scene, pose, cutter, which == 0);
  if (outline.ok()) return outline;
  scene.solid = solid_without_slivers(scene, pose);
  return traced(scene, pose, cutter, which == 0);
}

/// What most looks show of the face: the median of every sign.
FaceSigns common_face(const std::vector<FaceSigns>& seen) {
  const auto middle = [&](auto sign) {
    std::vector<double> values;
    for (const FaceSigns& f : seen) values.push_back(static_cast<double>(f.*sign));
    return median(std::move(values));
  };
  return {.bevel = middle(&FaceSigns::bevel) > 0.5,
          .strap = middle(&FaceSigns::strap),
          .strap_ahead = middle(&FaceSigns::strap_ahead),
          .under_gauge = middle(&FaceSigns::under_gauge),
          .gauge_flank = middle(&FaceSigns::gauge_flank),
          .gauge_crown_mm = middle(&FaceSigns::gauge_crown_mm),
          .underside = middle(&FaceSigns::underside),
          .recess = middle(&FaceSigns::recess),
          .shoulder_mm = middle(&FaceSigns::shoulder_mm)};
}

/// Gives the looks that ask which rim bare steel begins at one answer, the mean of theirs: it is one plate.
void share_rim(std::vector<CutterOutline>& looks, double CutterLines::*near_rim) {
  std::vector<double> chances;
  for (const CutterOutline& l : looks) {
    if (l.*near_rim > 0) chances.push_back(l.*near_rim);
  }
  for (CutterOutline& l : looks) {
    if (l.*near_rim > 0) l.*near_rim = mean(chances);
  }
}

}  // namespace

Result<CutterOutline> trace_cutter(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                                   const CutterFrame& cutter) {
  std::array<std::optional<Result<CutterOutline>>, kLooks> seen;
  cv::parallel_for_({0, kLooks}, [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) seen[i] = look(bgr, pose, field, cutter, i);
  });
  std::vector<CutterOutline> looks;
  std::optional<Error> failed;
  for (auto& s : seen) {
    if (s->ok()) {
      looks.push_back(std::move(*s).value());
    } else if (!failed) {
      failed = s->error();
    }
  }
  if (2 * looks.size() <= kLooks) return *failed;
  share_rim(looks, &CutterLines::top_near_rim);
  share_rim(looks, &CutterLines::rear_near_rim);
  std::vector<FaceSigns> faces;
  for (const CutterOutline& l : looks) faces.push_back(l.face);
  CutterOutline out = std::move(looks.front());
  out.face = common_face(faces);
  out.again.assign(std::make_move_iterator(looks.begin() + 1), std::make_move_iterator(looks.end()));
  out.again.resize(kLooks - 1);
  return out;
}

}  // namespace glintline
