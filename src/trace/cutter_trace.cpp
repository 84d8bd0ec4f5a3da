#include "trace/cutter_trace.h"

#include <algorithm>
#include <cmath>

#include "base/text.h"
#include "math/line_fit.h"
#include "math/statistics.h"
#include "trace/cutter_face.h"
#include "trace/cutter_scene.h"
#include "trace/lumps.h"
#include "trace/outline_sight.h"

namespace glintline {

namespace {

/// Outlines softer than this are not measured: rounded ends and corners shrink by about the blur, which no flank fit
/// gives back (a sharp tip recedes by about its blur; by experiment: 3 pixels make a cutter 0.2 mm longer). A card
/// that is soft as well makes it a small picture, not one focused elsewhere.
constexpr double kMostBlurPx = 2.8;
constexpr double kMostBlurRatio = 2.0;

/// Top plates are 4 to 6.5 mm wide (from memory).
constexpr double kNarrowestPlateMm = 4;
constexpr double kWidestPlateMm = 6.5;

/// How far a rounded shoulder or rim turns away from the light before the outline: of a radius of up to about 2 mm
/// (rounded corners, from memory) the part whose normal lies more than 45 degrees from the sight line mirrors what lies
/// below, (1 - sin 45°) r.
constexpr double kMostTintedMm = 0.6;

/// Rivets and links are there, so it is a cutter from the side, and no other view need be tried.
Error hidden_plate() {
  return {Fault::kNotMeasurable,
          "no top plate can be told from the field it lies over: brush the cutter clean, turn the lamp, and look "
          "straight down on the card",
          {}};
}

/// The parts of the skyline that matter, as columns.
struct Landmarks {
  int plate_from = 0;
  int plate_to = 0;
  int gullet = 0;
  int gauge = 0;
  std::vector<bool> lumps;  ///< columns over the gauge where something else lies on it
  Line2 plate_line;         ///< coarse, picture pixels
};

std::optional<Landmarks> landmarks(const CutterScene& s, const std::vector<int>& top) {
  Landmarks m;
  const auto lowest = [&](int from, int to) {
    return static_cast<int>(std::max_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  const auto highest = [&](int from, int to) {
    return static_cast<int>(std::min_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  m.lumps = sawdust_on(s, top, s.column(0.7), s.column(1.7));
  m.gauge = s.column(0.95);
  for (int x = m.gauge; x < s.column(1.45); ++x) {
    if (!m.lumps[x] && (m.lumps[m.gauge] || top[x] < top[m.gauge])) m.gauge = x;
  }
  m.gullet = lowest(s.column(0.1), m.gauge);
  const int peak = highest(s.column(-0.45), m.gullet);
  // Under the plate's own thickness (1.1 mm and more), so that a side plate seen where the bevel over it is lost in the
  // field does not count; a plate that falls by 6 degrees is followed for 9 mm.
  const int floor = top[peak] + static_cast<int>(s.px(1.0));
  std::vector<Point2> points;
  for (int x = s.column(-0.6); x < m.gullet; ++x) {
    if (top[x] < floor) points.emplace_back(x, top[x]);
  }
  if (points.size() < 20) return std::nullopt;
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.5});
  if (!fit.ok() || std::abs(fit->line.direction.y()) > 0.35 * std::abs(fit->line.direction.x())) return std::nullopt;
  m.plate_line = fit->line;
  const auto follows = [&](int x) { return std::abs(top[x] - on_line(m.plate_line, x).y()) < s.px(0.12) + 2; };
  int middle = static_cast<int>(fit->line.point.x());
  m.plate_from = m.plate_to = middle;
  int missed = 0;
  for (int x = middle; x < m.gullet && missed < s.px(0.6); ++x) {
    missed = follows(x) ? 0 : missed + 1;
    if (!missed) m.plate_to = x;
  }
  missed = 0;
  for (int x = middle; x > s.column(-0.7) && missed < s.px(0.6); --x) {
    missed = follows(x) ? 0 : missed + 1;
    if (!missed) m.plate_from = x;
  }
  return m;
}

/// The top's line through what has been seen of it so far, with the fall of a usual plate (5 degrees, DESIGN of every
/// saw chain: 2 to 8) where that is too short to show its own.
Line2 line_so_far(const CutterScene& s, const std::vector<Point2>& points, const Line2& coarse) {
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.3});
  if (!fit.ok()) return coarse;
  const double span = std::abs(points.back().x() - points.front().x()) * s.frame.mm_per_px;
  const double slope = fit->line.direction.y() / fit->line.direction.x();
  constexpr double kUsualFall = 0.087;
  constexpr double kFallSpread = 0.04;
  const double u = std::max(1e-4, fit->u_angle_rad() + 0.02 / std::max(0.1, span));
  const double share = kFallSpread * kFallSpread / (kFallSpread * kFallSpread + u * u);
  const double mixed = share * slope - (1 - share) * kUsualFall;
  return {fit->line.point, Point2(1, mixed).normalized()};
}

/// Follows the top's outline beyond the bare steel, along a bevel that mirrors the field and is told from it only by a
/// faint edge. There the outline either runs straight on or, where the camera sees past the plate's near end to the
/// edge that slants away from it, bends down by `bend` (a slope). Sightings are added to `points`; returns the last
/// column seen.
int follow_bevel(const CutterScene& s, const Landmarks& m, double bend, std::vector<Point2>& points) {
  const double near = s.px(0.05) + 1.5;
  const int patience = static_cast<int>(s.px(0.4));
  const Line2 straight = line_so_far(s, points, m.plate_line);
  const double slope = straight.direction.y() / straight.direction.x();
  Point2 last = on_line(straight, m.plate_to);
  bool bent = false;
  for (int x = m.plate_to + 2; x < m.gauge && x - last.x() < patience; x += 2) {
    std::optional<Point2> best;
    for (const bool tried : {false, true}) {
      if (bent && !tried) continue;
      const double y = last.y() + (x - last.x()) * (slope + (tried ? bend : 0));
      const auto seen = sight(s, {static_cast<double>(x), std::round(y)}, {0, 1}, 3);
      if (!seen) continue;
      for (const auto& edge : {seen->drop, seen->rise}) {
        if (!edge || std::abs(edge->y() - y) > near) continue;
        if (!best || std::abs(edge->y() - y) < std::abs(best->y() - y)) best = *edge;
      }
    }
    if (!best) continue;
    points.push_back(*best);
    // The place followed is smoothed, so that one stray sighting does not lead away.
    const double expected = last.y() + (x - last.x()) * slope;
    if (best->y() - expected > 0.6 * bend * (x - last.x()) + near) bent = true;
    last = {static_cast<double>(x), last.y() + (x - last.x()) * (slope + (bent ? bend : 0))};
    last.y() += 0.3 * (best->y() - last.y());
    if (std::abs(best->y() - on_line(straight, x).y()) > std::abs(bend) * s.px(1.0) + near) bent = true;
  }
  return static_cast<int>(last.x());
}

/// True where the millimetre behind an edge (towards the rear) stays darker than the open field before it, or not of
/// its colour: a bevel. Sawdust is smaller.
bool stays_off_field(const CutterScene& s, const Point2& edge) {
  const auto light = [&](double ahead_mm) {
    const int x = std::clamp(static_cast<int>(edge.x() + s.px(ahead_mm)), 0, s.picture.cols - 1);
    const int y = std::clamp(static_cast<int>(edge.y()), 0, s.picture.rows - 1);
    return s.picture.at<cv::Vec3b>(y, x);
  };
  std::vector<double> field;
  for (double ahead = 0.15; ahead < 0.6; ahead += 0.05) field.push_back(s.field->along(light(ahead)));
  const double level = median(field);
  int off = 0;
  int all = 0;
  for (double behind = 0.15; behind < 1.2; behind += 0.05, ++all) {
    const auto c = light(-behind);
    off += s.field->differs(c) || s.field->along(c) < 0.88 * level ? 1 : 0;
  }
  return off > 0.75 * all;
}

/// True where the body just under the top's line has the field's own colour over most of a stretch of columns.
bool mirrors_field(const CutterScene& s, const Line2& top, int from, int to) {
  int mirrored = 0;
  int all = 0;
  for (int x = from; x <= to; x += 2) {
    for (const double under : {0.15, 0.3, 0.45}) {
      const int y = static_cast<int>(on_line(top, x).y() + s.px(under));
      if (y < 0 || y >= s.picture.rows || x >= s.picture.cols) continue;
      ++all;
      mirrored += s.field->differs(s.picture.at<cv::Vec3b>(y, x)) ? 0 : 1;
    }
  }
  return mirrored * 2 > all;
}

/// Median sine between the light and the field's colour, `from` to `to` mm ahead of a place in its row.
double tint_ahead(const CutterScene& s, const Point2& at, double from_mm, double to_mm) {
  std::vector<double> sines;
  for (double ahead = from_mm; ahead <= to_mm; ahead += 0.05) {
    const int x = std::clamp(static_cast<int>(at.x() + s.px(ahead)), 0, s.picture.cols - 1);
    const int y = std::clamp(static_cast<int>(at.y()), 0, s.picture.rows - 1);
    const auto& c = s.picture.at<cv::Vec3b>(y, x);
    const double across = s.field->across(c);
    sines.push_back(across / std::max(1e-4, std::hypot(across, static_cast<double>(s.field->along(c)))));
  }
  return median(std::move(sines));
}

/// The edges met at a distance under the top's line, from the gullet's open field on towards the rear.
std::vector<Point2> edges_under(const CutterScene& s, const Line2& top, double under, double from, double to) {
  const double step = s.px(0.2);
  std::vector<Point2> edges;
  for (double x = from; x > to; x -= step) {
    const auto seen = sight(s, {std::round(x), std::round(on_line(top, x).y() + under)}, {-1, 0}, 3);
    if (!seen) continue;
    const auto& edge = seen->drop ? seen->drop : seen->rise;
    if (std::abs(edge->x() - x) <= step) edges.push_back(*edge);
  }
  return edges;
}

/// Those of the places that stand under one another; none where the most of them do not.
std::vector<Point2> upright_row(const CutterScene& s, const std::vector<Point2>& places) {
  std::vector<double> xs;
  for (const Point2& p : places) xs.push_back(p.x());
  std::vector<Point2> kept;
  for (const Point2& p : places) {
    if (std::abs(p.x() - median(xs)) < s.px(0.35)) kept.push_back(p);
  }
  return kept.size() * 2 > places.size() ? kept : std::vector<Point2>{};
}

/// The front of a bevel that mirrors the field: in rows just under the top's outline, the first edge met from the
/// gullet's open field. Where in a good share of the rows light of another colour begins soon behind it, there the front
/// is, and the first edge was a shadow's.
std::vector<Point2> bevel_front(const CutterScene& s, const Landmarks& m, const Line2& top, int from) {
  constexpr double kLeastTint = 0.1;  // as in strip_is_steel
  constexpr double kShadowMm = 1.5;
  std::vector<Point2> first;
  std::vector<Point2> coloured;
  for (double under = s.px(0.12); under < s.px(1.0); under += 2) {
    const auto edges = edges_under(s, top, under, 0.5 * (m.gauge + m.gullet), from - s.px(0.3 + kShadowMm));
    const auto met = std::find_if(edges.begin(), edges.end(), [&](const Point2& edge) {
      return edge.x() > from - s.px(0.3) && stays_off_field(s, edge);
    });
    if (met == edges.end()) continue;
    first.push_back(*met);
    const auto other = std::find_if(met, edges.end(), [&](const Point2& edge) {
      return tint_ahead(s, edge, -0.4, -0.1) > tint_ahead(s, edge, 0.1, 0.4) + kLeastTint;
    });
    if (other != edges.end() && met->x() - other->x() < s.px(kShadowMm)) coloured.push_back(*other);
  }
  if (coloured.size() * 3 > first.size()) {
    std::vector<Point2> front = upright_row(s, coloured);
    if (!front.empty()) return front;
  }
  return upright_row(s, first);
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

}  // namespace

Result<CutterOutline> trace_cutter(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                                   const CutterFrame& cutter) {
  const CutterScene s = make_cutter_scene(bgr, pose, field, cutter);
  const std::vector<int> top = skyline(s.solid);
  const auto m = landmarks(s, top);
  if (!m) return hidden_plate();

  CutterOutline out;
  std::vector<double> blurs;
  std::vector<OutlineSighting> seen;
  const auto look = [&](const Point2& coarse, const Point2& inwards, double strip = 0, double tinted = 0) {
    if (const auto sighting = sight(s, coarse, inwards, 1, strip, tinted)) {
      seen.push_back(*sighting);
      blurs.push_back(sighting->blur);
    }
  };
  const Point2 crown = pose.view.pixel(s.frame.board(m->gauge, top[m->gauge]));
  // How far the sight line passes over the card, towards the tops, for each millimetre that it rises.
  const double sight_slope =
      (pose.view.at_height(crown, cutter.height_mm + 1) - pose.view.at_height(crown, cutter.height_mm)).dot(cutter.up);
  const double least_px = sight_slope > 0 ? kLeastMirrorPx : kLeastBevelPx;
  const auto settle = [&](double whole_top = 0) {
    std::vector<Point2> points = settled(s, seen, {least_px, whole_top});
    seen.clear();
    return points;
  };
  const auto photographed = [&](const std::vector<Point2>& points) {
    std::vector<EdgePoint> edge;
    for (const Point2& at : points) edge.push_back(in_photo(s, pose, at));
    return edge;
  };
  // A top seen from above may mirror the field as far as it is seen. A narrow one lies within every profile's reach.
  const bool far = s.px(kNarrowestPlateMm * sight_slope) > usual_reach(s);
  const double strip = far ? s.px(kWidestPlateMm * sight_slope) : 0;
  for (int x = m->plate_from; x <= m->plate_to; x += 2) {
    look({static_cast<double>(x), std::round(on_line(m->plate_line, x).y())}, {0, 1}, strip, s.px(kMostTintedMm));
  }
  std::vector<Point2> plate = settle(kLeastTopShare * strip);
  if (plate.size() < 8) return hidden_plate();
  const Line2 plate_line = line_so_far(s, plate, m->plate_line);
  std::vector<Point2> with_bevel = plate;
  const int followed = follow_bevel(s, *m, edge_bend(pose, s, cutter, crown), with_bevel);
  std::vector<Point2> bevel_edge;
  if (followed > m->plate_to + s.px(0.3) && mirrors_field(s, plate_line, m->plate_to, followed)) {
    bevel_edge = bevel_front(s, *m, plate_line, followed);
  }
  // Without a front of its own what was followed may as well be a shadow's rim.
  constexpr std::size_t kLeastFront = 5;
  const bool bevel = bevel_edge.size() >= kLeastFront;
  if (bevel) plate = with_bevel;
  const int foremost = bevel ? std::max(followed, static_cast<int>(bevel_edge.front().x())) : m->plate_to;
  out.top = photographed(plate);

  const int gauge_floor = top[m->gauge] + static_cast<int>(s.px(0.45));
  int from = m->gauge;
  int to = m->gauge;
  while (from > m->gullet && top[from - 1] < gauge_floor) --from;
  while (to + 1 < s.picture.cols && top[to + 1] < gauge_floor) ++to;
  for (int x = from; x <= to; x += 2) {
    if (!m->lumps[x]) look(Point2(x, top[x]), {0, 1}, 0, s.px(kMostTintedMm));
  }
  out.gauge = photographed(settle());

  std::vector<Point2> front;
  if (bevel) {
    front = std::move(bevel_edge);
  } else {
    const int front_top = static_cast<int>(on_line(plate_line, foremost).y());
    for (int y = front_top + 1; y < front_top + s.px(2.4) && y < s.picture.rows; y += 2) {
      const auto* row = s.solid.ptr<uchar>(y);
      int x = m->gullet;
      while (x > m->plate_from && !row[x]) --x;
      if (x == m->gullet) break;  // below the gullet's ground
      look(Point2(x, y), {-1, 0});
    }
    front = settle();
  }
  out.front = photographed(front);
  const double shoulder = foremost_under(front, plate_line) * s.frame.mm_per_px;
  const int rear_top = static_cast<int>(on_line(plate_line, m->plate_from).y());
  for (int y = rear_top + 1; y < rear_top + s.px(1.6) && y < s.picture.rows; y += 2) {
    const auto* row = s.solid.ptr<uchar>(y);
    int x = s.column(-0.75);
    while (x < m->plate_to && !row[x]) ++x;
    look(Point2(x, y), {1, 0});
  }
  out.rear = photographed(settle());
  if (blurs.empty()) return hidden_plate();
  const double native = pose.view.mm_per_px(pose.view.pixel(s.frame.board(m->gauge, top[m->gauge])), cutter.height_mm);
  // Behind the edge's inner end, which lies about 3 mm behind the corner, the plate is seen over its whole width.
  const int whole_to = std::max(foremost - static_cast<int>(s.px(3.3)), m->plate_from + static_cast<int>(s.px(1.4)));
  const PlateStretch whole{plate_line, m->plate_from + static_cast<int>(s.px(0.4)), std::min(whole_to, foremost)};
  out.face = {bevel, strap_edge(s), underside_edge(s, whole), shoulder};
  out.blur_px = median(blurs) * s.frame.mm_per_px / native;
  if (out.blur_px > std::max(kMostBlurPx, kMostBlurRatio * pose.blur_px)) {
    return Error{Fault::kBlurred,
                 "the cutter is out of focus (its edges are " + fixed(2 * out.blur_px, 0) +
                     " pixels wide): focus on the cutter, not on the card, and hold still",
                 {}};
  }
  return out;
}

}  // namespace glintline
