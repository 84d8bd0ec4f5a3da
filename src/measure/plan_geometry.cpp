#include "measure/plan_geometry.h"

#include <algorithm>
#include <cmath>

#include "math/either.h"
#include "math/line_fit.h"
#include "math/rectangular.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Shares of the edge left out of its line: corner and inner end are rounded.
constexpr double kCornerShare = 0.1;
constexpr double kEndShare = 0.05;
/// A rounded corner's bend is left out too, as long as enough of the edge remains to be a line.
constexpr double kMostCornerShare = 0.5;
/// The outline of a chisel's corner joins the edge's line within this way, a semi-chisel's (radius 1 to 2 mm,
/// TRADE.md) later.
constexpr double kChiselWayMm = 0.6;
constexpr double kJoinedMm = 0.06;
/// Radius between the top plate and the side plate of a chisel, 0 to 0.3 mm (TRADE.md, from memory): middle.
constexpr double kChiselRadiusMm = 0.15;
/// A corner that is only inferred may be worn or broken besides (by experience); standard uncertainty.
constexpr double kUWornCornerMm = 0.04;
/// Wedge between top and bevel, some 50 degrees.
constexpr double kTanWedge = 1.2;
/// The outer side is relieved towards the rear by up to some 3 degrees, the inner one by anything up to that (by
/// experience): half of the difference, which turns their bisector, lies within 1.5 degrees and mostly about the half
/// of that. The links' edges give the chain within 0.1 degrees (by experiment: tests/accuracy) and lie askew within
/// their play. Standard uncertainties. Links further off than 3 degrees are something else, or a side was misread;
/// beyond twice that they are something else.
constexpr double kUTaperRad = 0.75 * M_PI / 180;
constexpr double kULinksRad = 0.15 * M_PI / 180;
constexpr double kMostLinksRad = 3 * M_PI / 180;
/// Links run through the whole picture, sides are short and a slip or a shadow may end them: of the two the links are
/// oftener right, as they were in the one such case of the study.
constexpr double kChanceOfLinks = 0.75;
/// Outlines are not believed better than a quarter of a pixel each.
constexpr double kLeastSigmaPx = 0.25;
/// An edge worn unevenly stands back by 1.3 r behind its sharp line (wedges of some 50 degrees): r of 40 um that varies
/// by a third moves it by so much to either side.
constexpr double kStraightMm = 0.02;
constexpr double kStraightPx = 1.2;

std::vector<Point2> placed(const PlateSpace& space, const std::vector<Point2>& px, double below_mm = 0) {
  std::vector<Point2> out;
  for (const Point2& p : px) out.push_back(space.at(p, below_mm));
  return out;
}

std::optional<LineFit> line_through(const std::vector<Point2>& points, double least_sigma) {
  FitOptions options;
  options.loss = Loss::kTukey;
  options.ordered = true;
  options.least_sigma = least_sigma;
  Result<LineFit> fit = fit_line(points, options);
  if (!fit.ok()) return std::nullopt;
  return *fit;
}

/// Turns a fit's line so that it runs along `direction`.
Line2 directed(const LineFit& fit, const Point2& direction) {
  const Point2 d = fit.line.direction;
  return {fit.line.point, d.dot(direction) > 0 ? d : Point2(-d)};
}

Point2 rotated(const Point2& v, double angle) {
  return {std::cos(angle) * v.x() - std::sin(angle) * v.y(), std::sin(angle) * v.x() + std::cos(angle) * v.y()};
}

/// The three lines round a plate, and the chain's direction they give.
struct Sides {
  LineFit outer;
  LineFit inner;
  Line2 outer_line;
  Line2 inner_line;
  Point2 running;
};

/// A direction with its standard uncertainty.
struct Direction {
  Point2 along;
  double u_rad = 0;
};

/// Direction of the chain: the bisector of the sides, whose tapers may differ, and the links, weighted by 1/u². Where
/// they contradict each other either may be right, the links more likely.
Direction chain_direction(const Sides& sides, const PlanSpace& space) {
  const Point2 bisector = (sides.outer_line.direction + sides.inner_line.direction).normalized();
  const double u_bisector =
      std::hypot(kUTaperRad, std::hypot(sides.outer.u_angle_rad(), sides.inner.u_angle_rad()) / 2);
  if (space.links_px.size() < 2) return {bisector, u_bisector};
  const Point2 from = space.view.at_height(space.links_px[0], space.height_mm);
  Point2 links = (space.view.at_height(space.links_px[1], space.height_mm) - from).normalized();
  if (links.dot(bisector) < 0) links = -links;
  const double off = std::atan2(turned_quarter(bisector).dot(links), bisector.dot(links));
  if (std::abs(off) > 2 * kMostLinksRad) return {bisector, u_bisector};
  if (std::abs(off) > kMostLinksRad) {
    const double spread = u_of_either(kChanceOfLinks, off);
    return {rotated(bisector, kChanceOfLinks * off), std::hypot((1 - kChanceOfLinks) * u_bisector, spread)};
  }
  const double weight = 1 / (kULinksRad * kULinksRad);
  const double all = weight + 1 / (u_bisector * u_bisector);
  return {rotated(bisector, off * weight / all), 1 / std::sqrt(all)};
}

/// `about`: roughly the running direction. Where a part of the rear end is hidden, what is seen of it may lie on one
/// side.
std::optional<Sides> sides_of(const PlateOutline& plate, const PlateSpace& space, const Point2& about,
                              const PlanSpace& assumed, double least_sigma) {
  constexpr double kMostTaper = 20 * M_PI / 180;
  const auto outer = line_through(placed(space, plate.outer_side_px), least_sigma);
  const auto inner = line_through(placed(space, plate.inner_side_px), least_sigma);
  if (!outer || !inner) return std::nullopt;
  Sides out{*outer, *inner, directed(*outer, about), directed(*inner, about), {}};
  const Direction chain = chain_direction(out, assumed);
  for (const Line2& side : {out.outer_line, out.inner_line}) {
    if (side.direction.dot(chain.along) < std::cos(kMostTaper)) return std::nullopt;
  }
  out.running = rotated(chain.along, assumed.turns * chain.u_rad);
  return out;
}

/// Points of the edge's contour, those near its ends left out. `left_out` of kBlocks stretches is missing; none for
/// kBlocks.
constexpr int kBlocks = 5;
std::vector<Point2> edge_points(const PlateOutline& plate, const PlateSpace& space, double bent_share,
                                int left_out = kBlocks) {
  std::vector<Point2> out;
  const std::size_t n = plate.contour.size();
  const auto first = static_cast<std::size_t>(std::clamp(bent_share, kCornerShare, kMostCornerShare) * n);
  const auto last = static_cast<std::size_t>((1 - kEndShare) * n);
  for (std::size_t k = first; k < last; ++k) {
    if (static_cast<int>((k - first) * kBlocks / (last - first)) == left_out) continue;
    if (plate.contour[k].seen) out.push_back(space.at(plate.contour[k].px));
  }
  return out;
}

/// How far from its line the outline of an undamaged edge strays.
double straightness(double pixel) { return std::max(kStraightMm, kStraightPx * pixel); }

/// Line of the undamaged edge: through its straight part, which chips, a rounded corner or the side plate's front, seen
/// ahead of a worn corner, may leave no more than the half of.
std::optional<LineFit> edge_line(const std::vector<Point2>& points, double pixel) {
  return line_through(agreeing_points(points, straightness(pixel)), kLeastSigmaPx * pixel);
}

/// Lines of the edge with one stretch of the contour left out after the other: how far each turns against the whole's.
/// Another choice of the straight part turns by more than an edge's own straying can; one that lies on much fewer
/// places of the whole edge is no rival but what remains where the stretch was most of the straight part.
struct Turns {
  std::vector<double> own;  ///< of one choice; as many as stretches, nought for the others
  double rival = 0;         ///< largest of the others
};

Turns turns_of(const PlateOutline& plate, const PlateSpace& space, const LineFit& whole, double bent_share,
               double pixel) {
  constexpr double kRivalShare = 0.8;
  const std::vector<Point2> points = edge_points(plate, space, bent_share);
  const double reach = straightness(pixel);
  const double most_own = 2 * reach / (points.back() - points.front()).norm();
  const auto on_line = [&](const Line2& line) {
    return std::count_if(points.begin(), points.end(), [&](const Point2& p) { return line.distance(p) < reach; });
  };
  Turns out{std::vector<double>(kBlocks, 0.0), 0};
  for (int block = 0; block < kBlocks; ++block) {
    const auto fit = edge_line(edge_points(plate, space, bent_share, block), pixel);
    if (!fit) continue;
    const double sine = turned_quarter(whole.line.direction).dot(fit->line.direction);
    const double turn = std::abs(std::asin(std::clamp(sine, -1.0, 1.0)));
    if (turn < most_own) {
      out.own[block] = turn;
    } else if (static_cast<double>(on_line(fit->line)) >= kRivalShare * static_cast<double>(on_line(whole.line))) {
      out.rival = std::max(out.rival, turn);
    }
  }
  return out;
}

/// Standard uncertainty of the edge line's angle: block jackknife (Künsch, Annals of Statistics 17, 1989), and any
/// angle up to a rival choice's alike.
double u_edge_angle(const PlateOutline& plate, const PlateSpace& space, const LineFit& whole, double bent_share,
                    double pixel) {
  // Expected second largest of five absolute standard normal deviates (by simulation).
  constexpr double kSecondLargest = 1.13;
  Turns turns = turns_of(plate, space, whole, bent_share, pixel);
  // The second largest: one stretch that the straight part hangs on is to be expected beside a chip.
  std::sort(turns.own.begin(), turns.own.end());
  return std::max({whole.u_angle_rad(), turns.own[kBlocks - 2] * std::sqrt(kBlocks - 1.0) / kSecondLargest,
                   turns.rival * kRectangular});
}

/// Furthest of some places along `running`, the middle of three neighbours counting, so that one grain does not decide.
std::optional<Point2> furthest_of(const std::vector<Point2>& points, const Point2& running) {
  std::optional<Point2> best;
  double furthest = -1e9;
  for (std::size_t k = 1; k + 1 < points.size(); ++k) {
    const double x = median({points[k - 1].dot(running), points[k].dot(running), points[k + 1].dot(running)});
    if (x <= furthest) continue;
    furthest = x;
    best = points[k] + (x - points[k].dot(running)) * running;
  }
  return best;
}

/// Furthest place of the seen outline near the corner, or of where the flat ends behind it.
Point2 furthest_near_corner(const PlateOutline& plate, const PlateSpace& space, const Point2& running, double below_mm,
                            Point2 ContourPoint::*end) {
  std::vector<Point2> points;
  for (std::size_t k = 0; k < plate.contour.size() / 2; ++k) {
    if (plate.contour[k].seen) points.push_back(space.at(plate.contour[k].*end, below_mm));
  }
  return furthest_of(points, running).value_or(space.at(plate.corner_px, below_mm));
}

/// True where most of the first tenth of the contour stands out.
bool corner_seen(const PlateOutline& plate) {
  const auto last = plate.contour.begin() + static_cast<std::ptrdiff_t>(plate.contour.size() / 10);
  const auto seen = std::count_if(plate.contour.begin(), last, [](const ContourPoint& p) { return p.seen; });
  return seen * 2 > last - plate.contour.begin();
}

/// Where, along the edge, the outline joins the edge's line for good, and where all of the bend is left, as a share of
/// the contour.
struct Joining {
  double way_mm = 0;
  double bent_share = 0;
};

Joining joining(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g) {
  // A bend of radius R leaves the line by about u²/2R: from 0.06 mm to 0.01 it takes 0.3 mm at 2 mm of radius.
  constexpr double kRestMm = 0.3;
  Joining out;
  for (std::size_t k = 0; k < plate.contour.size(); ++k) {
    const ContourPoint& p = plate.contour[k];
    const Point2 at = along_and_behind(g, space.at(p.px));
    if (out.way_mm == 0 && p.seen && at.x() > 0 && at.y() < kJoinedMm) out.way_mm = at.x();
    if (out.way_mm == 0 || at.x() < out.way_mm + kRestMm) continue;
    out.bent_share = static_cast<double>(k) / static_cast<double>(plate.contour.size());
    break;
  }
  return out;
}

/// Across the chain, from the outer side inwards.
double inwards(const PlanGeometry& g, const Point2& board_mm) {
  Point2 aside = turned_quarter(g.running);
  if (aside.dot(g.edge.direction) < 0) aside = -aside;
  return (board_mm - g.corner).dot(aside);
}

/// True where the outline near the corner runs on, seen, past its foremost place: a rounded corner's bend (radius up to
/// 2 mm, TRADE.md), behind whose foremost place nothing more of the plate comes. A chisel's outline is foremost at its
/// end, up to the setback of its own rounding.
bool turns_back(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g) {
  constexpr double kWayMm = 0.1;
  constexpr double kBendMm = 1;
  double first = 1e9;
  double foremost = 0;
  double furthest = -1e9;
  for (std::size_t k = 0; k < plate.contour.size() / 2; ++k) {
    if (!plate.contour[k].seen) continue;
    const Point2 at = space.at(plate.contour[k].px);
    first = std::min(first, inwards(g, at));
    if (at.dot(g.running) <= furthest) continue;
    furthest = at.dot(g.running);
    foremost = inwards(g, at);
  }
  return foremost < kBendMm && foremost - first > kWayMm;
}

std::vector<CornerPlace> corner_places(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g) {
  std::vector<CornerPlace> outline;
  for (const ContourPoint& p : plate.contour) {
    const Point2 at = space.at(p.px);
    const double alike = (at - space.at(p.alike_px)).dot(g.running);
    if (p.seen) outline.push_back({inwards(g, at), at.dot(g.running), along_and_behind(g, at).y(), alike});
  }
  return outline;
}

/// A corner whose bend is lost on its way to the side is a rounded one.
WorkingCorner lost_corner(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g,
                          const OutlineEnd& end) {
  const auto straight = std::find_if(plate.contour.begin(), plate.contour.end(), [&](const ContourPoint& p) {
    return inwards(g, space.at(p.px)) > end.bend_mm;
  });
  const auto bent = static_cast<double>(straight - plate.contour.begin());
  return {CornerKind::kRounded, {}, end, bent / static_cast<double>(plate.contour.size())};
}

/// What an outline that runs straight to the corner, or is not seen there, leaves to be a rounded corner's.
enum class Outline { kStraight, kUnseen };

/// Chance that the corner is a rounded one, from how the light changes beside the outer side. Of plates whose light
/// changes by 0.4 there are as many with either corner, at 0.1 ten chisels to a rounded one, at 0.8 the other way round
/// (by experiment: the study's photographs); no light is surer than twenty to one. Beforehand a quarter of the corners
/// that are not seen, and an eighth of those seen straight, are rounded ones: most show their bend.
double chance_of_rounded(const PlateOutline& plate, const PlanSpace& assumed, Outline outline) {
  if (assumed.chisel) return *assumed.chisel ? 0 : 1;
  constexpr double kPerChange = 6.5;
  constexpr double kEvenChange = 0.4;
  constexpr double kMost = 3;
  constexpr double kLeastChance = 0.1;
  const double before = outline == Outline::kUnseen ? std::log(1.0 / 3) : std::log(1.0 / 7);
  const double light = std::clamp(kPerChange * (plate.shoulder_change - kEvenChange), -kMost, kMost);
  const double chance = 1 / (1 + std::exp(-before - light));
  return chance < kLeastChance ? 0 : chance;
}

/// True where what looks broken off at the corner is likelier the bend of a rounded one, whose outline is lost before
/// lower metal: by the light beside the outer side, and no deeper than the foremost place of such a bend lies behind
/// where the lines meet (computed, as in either_corner).
bool may_be_bend(const FoundChip& gap, const PlateOutline& plate, const PlanSpace& assumed) {
  constexpr double kMostBendMm = 0.55;
  return gap.chip.depth_mm.value < kMostBendMm && chance_of_rounded(plate, assumed, Outline::kUnseen) > 0.5;
}

WorkingCorner corner_of(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g,
                        const PlanSpace& assumed) {
  const Joining joins = joining(plate, space, g);
  const bool rounded = joins.way_mm > kChiselWayMm;
  const bool seen = corner_seen(plate) || (rounded && turns_back(plate, space, g));
  const auto gap = seen ? find_corner_gap(recession_of(plate, g, space), g.mm_per_px) : std::nullopt;
  if (gap && !may_be_bend(*gap, plate, assumed)) return {CornerKind::kBroken, gap, {}, 0};
  const std::vector<CornerPlace> places = corner_places(plate, space, g);
  const auto end = seen ? outline_end(places, g.mm_per_px) : std::nullopt;
  const auto lost = end ? std::nullopt : lost_bend(places, g.mm_per_px);
  if (lost) return lost_corner(plate, space, g, *lost);
  if (!seen) return {CornerKind::kUnseen, {}, {}, 0};
  return {rounded ? CornerKind::kRounded : CornerKind::kSharp, {}, end, rounded ? joins.bent_share : 0};
}

/// How far, along the chain, the foremost point of a chisel's corner lies behind the crossing of edge and side, per
/// radius between top plate and side plate. At the angle f round that radius the edge is (1 - sin f) further inwards
/// and (1 - cos f) lower, where the bevel stands back by the latter over tan(wedge); what is foremost has
/// tan f = sin(edge angle) tan(wedge).
double setback_per_radius(double edge_angle) {
  const double inwards = std::tan(edge_angle);
  const double lower = 1 / (kTanWedge * std::cos(edge_angle));
  return inwards + lower - std::hypot(inwards, lower);
}

/// Foremost place with its standard uncertainty from the outline.
struct Foremost {
  Point2 at;
  double u = 0;
  double u_hidden = 0;
};

/// Of a broken corner: its lip lies between where the flat ends and the outline of whatever is lower and shows ahead of
/// it, and on the bevel, lower by up to the gap's depth times tan(wedge).
Foremost broken_corner(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g, double pixel) {
  const double lowest = kTanWedge * g.working_corner.gap->chip.depth_mm.value;
  // Rows of the gap on which no end of the flat was found say nothing of it.
  PlateOutline told = plate;
  for (ContourPoint& p : told.contour) {
    const bool in_gap = along_and_behind(g, space.at(p.px)).x() < g.working_corner.gap->to_mm;
    p.seen = p.seen && !(in_gap && (p.px - p.flat_px).norm() < 1);
  }
  const auto outer = [&](double below) {
    return furthest_near_corner(plate, space, g.running, below, &ContourPoint::px);
  };
  const Point2 flat = furthest_near_corner(told, space, g.running, lowest / 2, &ContourPoint::flat_px);
  const double range = (outer(lowest / 2) - flat).dot(g.running);
  const double tall = (outer(lowest) - outer(0)).dot(g.running);
  return {outer(lowest / 2) - range / 2 * g.running, std::hypot(range, tall) / 2 * kRectangular + 0.5 * pixel, 0};
}

/// The outline without what lies beyond its end: given up where the light does not tell of the end, else ahead of where
/// the plate's light ends by the strip of its rounding, and behind the last tangent.
PlateOutline up_to_end(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g) {
  const OutlineEnd& end = *g.working_corner.end;
  PlateOutline own = plate;
  for (ContourPoint& p : own.contour) {
    const Point2 at = space.at(p.px);
    if (inwards(g, at) >= end.in_mm) continue;
    const Point2 light_ends = space.at(p.alike_px) + end.strip_mm * g.running;
    const double tangent = end.ahead_mm + (end.rise + kUTangent) * (end.in_mm - inwards(g, at));
    const double beyond = std::max((at - light_ends).dot(g.running), at.dot(g.running) - tangent);
    if (end.doubtful || end.lost) {
      p.seen = false;
    } else if (beyond > 0) {
      p.px = space.pixel(at - beyond * g.running);
    }
  }
  return own;
}

/// How far ahead of `own` an outline lies at the most.
double most_ahead(const PlateOutline& plate, const PlateOutline& own, const PlateSpace& space, const Point2& running) {
  std::vector<double> leads;
  for (std::size_t k = 0; k < plate.contour.size() / 2; ++k)
    leads.push_back((space.at(plate.contour[k].px) - space.at(own.contour[k].px)).dot(running));
  return *std::max_element(leads.begin(), leads.end());
}

/// Of an outline that is lost before the corner, or turns ahead by itself: a file's cut falls back down to the height
/// of its axis, half its radius or more under the edge (a fifth of the file stands over the plate, common practice),
/// and comes ahead again below, by up to 0.25 mm where a file of 4 mm meets a bend of 2 mm (computed). While the
/// outline leads by no more, or while the light does not tell of the end, neither reading is better supported: the
/// plate ends somewhere between where it is last told and what its last tangent reaches, or goes on to where the
/// outline does. Half-way between them.
Foremost ended_corner(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g, double below_mm,
                      double pixel) {
  constexpr double kOwnTurnMm = 0.25;
  const OutlineEnd& end = *g.working_corner.end;
  const PlateOutline own = up_to_end(plate, space, g);
  const Point2 outer = furthest_near_corner(plate, space, g.running, below_mm, &ContourPoint::px);
  const Point2 behind = furthest_near_corner(own, space, g.running, below_mm, &ContourPoint::px);
  const bool own_turn =
      g.working_corner.kind == CornerKind::kRounded && most_ahead(plate, own, space, g.running) < kOwnTurnMm;
  if (!end.doubtful && !own_turn) return {behind, 0.5 * pixel, std::hypot(end.strip_mm * kRectangular, pixel)};
  const double most = std::max(0.0, (outer - behind).dot(g.running));
  const double lead = end.doubtful ? std::max(0.0, most - end.rise * end.in_mm / 2) : most;
  return {outer - lead / 2 * g.running, 0.5 * pixel, std::hypot(most / 2 * kRectangular, pixel)};
}

/// Of a chisel whose outline is lost in its last rows. On the edge's line to all appearance, the radius of its corner is
/// no larger than the way that is lost, and its tip lies between what is seen and where the lines meet. A little behind
/// it, where an edge is worn unevenly or its corner's radius begins, the outline goes on between no further ahead and
/// beside the line. Nothing where the outline reaches the side or leaves the line before.
std::optional<Foremost> lost_tip(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g,
                                 double pixel) {
  constexpr double kLostPx = 1.5;  // less are rows at the side itself
  constexpr double kMostRadiusMm = 2 * kChiselRadiusMm;
  const auto seen =
      std::find_if(plate.contour.begin(), plate.contour.end(), [](const ContourPoint& p) { return p.seen; });
  if (seen == plate.contour.end()) return std::nullopt;
  const Point2 last = space.at(seen->px);
  const double lost = inwards(g, last);
  const double behind = along_and_behind(g, last).y();
  if (behind > kJoinedMm || lost < kLostPx * pixel || lost > kMostRadiusMm) return std::nullopt;
  if (behind > straightness(pixel)) {
    const double beside = (g.corner - last).dot(g.running) - behind / std::cos(g.edge_angle);
    return Foremost{last + beside / 2 * g.running, 0.5 * pixel, std::abs(beside) / 2 * kRectangular};
  }
  const double half = setback_per_radius(g.edge_angle) * lost / 2;
  return Foremost{g.corner - half * g.running, 0.5 * pixel, half * kRectangular};
}

/// Of a bend that is lost on its way to the side: a plate's outline is convex there, so that it goes on between no
/// further ahead and its last tangent. What little of a bend is seen where the outline is lost long before the side may
/// as well be dirt or wear on a chisel's straight edge.
Foremost lost_bend_corner(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g, double below_mm,
                          double pixel) {
  const OutlineEnd& end = *g.working_corner.end;
  const PlateOutline own = up_to_end(plate, space, g);
  const Point2 behind = furthest_near_corner(own, space, g.running, below_mm, &ContourPoint::px);
  constexpr double kLongBeforeMm = 0.8;  // rounded corners have radii of 1 to 2 mm (TRADE.md)
  const double chisel = (g.corner - behind).dot(g.running) - g.corner_setback;
  const double tangent = end.rise * end.in_mm;
  const double half = (end.in_mm > kLongBeforeMm ? std::max(tangent, chisel) : tangent) / 2;
  return {behind + half * g.running, 0.5 * pixel, std::hypot(half * kRectangular, pixel)};
}

/// Of a corner that may be a chisel's, foremost at `chisel`, or a rounded one that is not seen: round a bend of 1 to 2
/// mm the foremost place of edge and file's cut lies 0.4 to 0.55 mm behind where the lines meet (computed: files of 4
/// to 5.5 mm), less what an outer side is traced inside the bend.
Foremost either_corner(const Foremost& chisel, const PlanGeometry& g, double chance) {
  constexpr double kSetbackMm = 0.35;
  constexpr double kUSetbackMm = 0.12;
  const double apart = std::max(0.0, (chisel.at - g.corner).dot(g.running) + kSetbackMm);
  Foremost out = chisel;
  out.at -= chance * apart * g.running;
  out.u_hidden = std::hypot(chisel.u_hidden, u_of_either(chance, apart), chance * kUSetbackMm);
  return out;
}

Foremost foremost_of(const PlateOutline& plate, const PlateSpace& space, const PlanGeometry& g,
                     const PlanSpace& assumed, double pixel) {
  switch (g.working_corner.kind) {
    case CornerKind::kBroken:
      return broken_corner(plate, space, g, pixel);
    case CornerKind::kUnseen: {
      const double u_whole = g.corner_setback * kRectangular;
      const Foremost chisel{g.corner - g.corner_setback * g.running, std::hypot(u_whole, kUWornCornerMm), 0};
      return either_corner(chisel, g, chance_of_rounded(plate, assumed, Outline::kUnseen));
    }
    case CornerKind::kRounded:
    case CornerKind::kSharp:
      break;
  }
  const double below = g.working_corner.kind == CornerKind::kRounded ? assumed.corner_drop_mm : 0;
  if (g.working_corner.end && g.working_corner.end->lost)
    return lost_bend_corner(plate, space, g, below, pixel);
  if (g.working_corner.end) return ended_corner(plate, space, g, below, pixel);
  const Foremost seen{furthest_near_corner(plate, space, g.running, below, &ContourPoint::px), 0.5 * pixel, 0};
  if (g.working_corner.kind != CornerKind::kSharp) return seen;
  const auto tip = lost_tip(plate, space, g, pixel);
  const Foremost straight = tip && (tip->at - seen.at).dot(g.running) > 0 ? *tip : seen;
  // A bend, however small, takes the foremost place back from where the lines meet; lower metal goes on there.
  constexpr double kUnbentMm = 0.17;
  if ((g.corner - straight.at).dot(g.running) > kUnbentMm) return straight;
  return either_corner(straight, g, chance_of_rounded(plate, assumed, Outline::kStraight));
}

}  // namespace

PlateSpace::PlateSpace(const PlanSpace& space, const Point2& corner_px, const Point2& running)
    : view_(space.view),
      eye_(space.view.eye()),
      corner_(space.view.at_height(corner_px, space.height_mm)),
      running_(running),
      height_(space.height_mm),
      fall_(std::tan(space.slope_rad)) {}

Point2 PlateSpace::at(const Point2& px, double below_mm) const {
  const Point2 d = view_.camera.direction(px);
  const Point3 ray = view_.camera_from_board.rotation.transpose() * Point3(d.x(), d.y(), 1);
  // Plane: Z + fall (P - corner) . running = below - height.
  const double start = eye_.z() + fall_ * (eye_.head<2>() - corner_).dot(running_);
  const double step = ray.z() + fall_ * ray.head<2>().dot(running_);
  const double along = (below_mm - height_ - start) / step;
  return (eye_ + along * ray).head<2>();
}

double PlateSpace::height_at(const Point2& board_mm) const {
  return height_ + fall_ * (board_mm - corner_).dot(running_);
}

Point2 PlateSpace::pixel(const Point2& board_mm) const {
  return view_.pixel(Point3(board_mm.x(), board_mm.y(), -height_at(board_mm)));
}

double PlateSpace::across_sight(const Point2& px, const Point2& step_px) const {
  const Point2 here = at(px);
  const Point2 there = at(px + step_px);
  const Point3 step(there.x() - here.x(), there.y() - here.y(), height_at(here) - height_at(there));
  const Point3 sight = (eye_ - Point3(here.x(), here.y(), -height_at(here))).normalized();
  return (step - step.dot(sight) * sight).norm() / step_px.norm();
}

double PlateSpace::lean(const Point2& px, const Line2& edge) const {
  const Point2 here = at(px);
  const Point2 run = edge.direction;
  const Point3 along = Point3(run.x(), run.y(), -fall_ * run.dot(running_)).normalized();
  const Point3 forward = Point3(running_.x(), running_.y(), -fall_).normalized();
  Point3 normal = forward.cross(along).normalized();
  if (normal.z() > 0) normal = -normal;
  Point3 out = along.cross(normal);
  if (out.dot(forward) < 0) out = -out;
  const Point3 sight = eye_ - Point3(here.x(), here.y(), -height_at(here));
  return std::atan2(sight.dot(out), sight.dot(normal));
}

Point2 along_and_behind(const PlanGeometry& geometry, const Point2& board_mm) {
  Point2 ahead = turned_quarter(geometry.edge.direction);
  if (ahead.dot(geometry.running) < 0) ahead = -ahead;
  const Point2 off = board_mm - geometry.corner;
  return {off.dot(geometry.edge.direction), -off.dot(ahead)};
}

std::vector<Recession> recession_of(const PlateOutline& plate, const PlanGeometry& geometry, const PlateSpace& space) {
  // The outline was looked for along the chain: a place that stands back by one unit was found on the row that meets
  // the edge's line this much further from the corner.
  const double shear = std::tan(geometry.edge_angle);
  std::vector<Recession> out;
  for (const ContourPoint& p : plate.contour) {
    const Point2 at = along_and_behind(geometry, space.at(p.px));
    const Point2 flat = along_and_behind(geometry, space.at(p.flat_px));
    out.push_back({at.x() - shear * at.y(), at.x(), at.y(), p.seen, flat.y(), p.open, p.broken});
  }
  return out;
}

namespace {

/// A plate's space and the lines round it, but for the edge's.
struct Surround {
  PlateSpace space;
  Sides sides;
  LineFit rear;
  Point2 inner_px;
  double pixel = 0;  ///< mm
};

std::optional<Surround> surround_of(const PlateOutline& plate, const PlanSpace& assumed) {
  const Point2 rear_px = plate.rear_px[plate.rear_px.size() / 2];
  const Point2 inner_px = plate.contour.back().px;
  const CameraView& view = assumed.view;
  Point2 running =
      ((view.at_height(plate.corner_px, assumed.height_mm) + view.at_height(inner_px, assumed.height_mm)) / 2 -
       view.at_height(rear_px, assumed.height_mm))
          .normalized();
  const double pixel = view.mm_per_px(plate.corner_px, assumed.height_mm);
  const double least = kLeastSigmaPx * pixel;
  std::optional<Sides> sides;
  // The plane falls along the chain, whose direction the sides in that plane tell: two rounds settle it.
  for (int round = 0; round < 3; ++round) {
    const PlateSpace space(assumed, plate.corner_px, running);
    sides = sides_of(plate, space, running, assumed, least);
    if (!sides) return std::nullopt;
    running = sides->running;
  }
  const PlateSpace space(assumed, plate.corner_px, running);
  const auto rear = line_through(placed(space, plate.rear_px, assumed.rear_drop_mm), least);
  if (!rear) return std::nullopt;
  return Surround{space, *sides, *rear, inner_px, pixel};
}

/// Half of the way along the chain between the ends of a rear end that lies askew. Rear ends are cut square to the
/// chain (by experience); a line further aslant has followed a strap's end or a lamp's image in a part of it, and
/// either of its ends may be the right one.
double askew(const Point2& rear, const Point2& running) {
  constexpr double kSquareRad = 0.7 * M_PI / 180;
  const double along = std::abs(rear.dot(running));
  return along > kSquareRad * rear.norm() ? along / 2 : 0;
}

/// How far a rear end lies behind the end of its flat where the picture does not tell the two apart.
struct HiddenRim {
  double mean = 0;
  double u = 0;
};

/// Rims are rounded by 0 to 0.4 mm (by experience), and of a rounding the part whose normal leans more than 45 degrees
/// mirrors what lies below, (1 - sin 45°) r: 0 to 0.12 mm, all alike probable. A wide one has a step of its own, which
/// was traced; where none was, it is narrower than the least strip that trace tells (about two pixels, two blurs of a
/// sharp picture), and passes for what lies behind the plate.
HiddenRim hidden_rim(double pixel_mm) {
  constexpr double kMostMm = (1 - 0.70710678) * 0.4;
  constexpr double kToldPx = 2;
  const double half = std::min(kMostMm, kToldPx * pixel_mm) / 2;
  return {half, half * kRectangular};
}

/// Everything that the lines tell; nothing where they do not meet.
std::optional<PlanGeometry> framed(const PlateOutline& plate, const Surround& around, const LineFit& edge) {
  PlanGeometry g;
  const PlateSpace& space = around.space;
  g.running = around.sides.running;
  g.edge = directed(edge, space.at(around.inner_px) - space.at(plate.corner_px));
  const auto corner = crossing(g.edge, around.sides.outer_line);
  const auto end = crossing(g.edge, around.sides.inner_line);
  const Line2 outer_to_inner = directed(around.rear, g.edge.direction);
  const auto rear_outer = crossing(outer_to_inner, around.sides.outer_line);
  const auto rear_inner = crossing(outer_to_inner, around.sides.inner_line);
  if (!corner || !end || !rear_outer || !rear_inner) return std::nullopt;
  g.corner = *corner;
  g.edge_length = (*end - *corner).norm();
  const HiddenRim hidden = plate.rear_rim_seen ? HiddenRim{} : hidden_rim(around.pixel);
  g.rear = (*rear_outer + *rear_inner) / 2 - hidden.mean * g.running;
  const Point2 aside = turned_quarter(g.running);
  const Point2 run = g.edge.direction;
  g.edge_angle = std::atan2(-run.dot(g.running), std::abs(run.dot(aside)));
  // x right, y down, seen from above: right of the running direction is its quarter turn.
  g.right_hand = run.dot(aside) < 0;
  const Point2 middle_px = space.pixel((g.corner + *end) / 2);
  g.lean = space.lean(middle_px, g.edge);
  Point2 ahead = turned_quarter(g.edge.direction);
  if (ahead.dot(g.running) < 0) ahead = -ahead;
  g.mm_per_px = space.across_sight(middle_px, space.pixel((g.corner + *end) / 2 + ahead) - middle_px);
  g.corner_setback = setback_per_radius(g.edge_angle) * kChiselRadiusMm;
  g.u_rear =
      std::hypot(std::hypot(around.rear.u_at(g.rear), hidden.u), plate.rear_half_range_px * around.pixel * kRectangular,
                 askew(*rear_inner - *rear_outer, g.running) * kRectangular);
  return g;
}

/// The lines with a corner that is told already.
std::optional<PlanGeometry> told(const PlateOutline& plate, const Surround& around, const WorkingCorner& corner) {
  const auto edge = edge_line(edge_points(plate, around.space, corner.bent_share), around.pixel);
  auto g = edge ? framed(plate, around, *edge) : std::nullopt;
  if (!g) return std::nullopt;
  g->working_corner = corner;
  if (corner.bent_share > 0) {
    const auto k = static_cast<std::size_t>(corner.bent_share * static_cast<double>(plate.contour.size()));
    g->straight_from = along_and_behind(*g, around.space.at(plate.contour[k].px)).x();
  }
  g->u_angle = plate.edge.empty() ? edge->u_angle_rad()
                                  : u_edge_angle(plate, around.space, *edge, corner.bent_share, around.pixel);
  return g;
}

/// How well an edge's line suits the outline: places on it less places ahead of it, because an edge is filed straight
/// and only loses metal.
double suits(const PlateOutline& plate, const Surround& around, const PlanGeometry& g) {
  const double reach = straightness(around.pixel);
  double out = 0;
  for (const Point2& p : edge_points(plate, around.space, 0)) {
    const double behind = along_and_behind(g, p).y();
    if (behind < reach) out += behind > -reach ? 1 : -1;
  }
  return out;
}

/// The lines, and the corner that they tell. A rounded corner's bend is no part of the edge: its line is drawn again
/// without it. The inner half of an edge is free of any bend, so its line goes first, unless it suits much less of the
/// outline than one through everything does: it may be chipped away.
std::optional<PlanGeometry> with_corner(const PlateOutline& plate, const Surround& around, const PlanSpace& assumed) {
  constexpr int kMostRounds = 5;
  constexpr double kSuitsAsWell = 0.8;
  WorkingCorner half;
  half.bent_share = kMostCornerShare;
  auto g = told(plate, around, {});
  const auto inner = told(plate, around, half);
  bool again = inner && (!g || suits(plate, around, *inner) > kSuitsAsWell * suits(plate, around, *g));
  if (again) g = inner;
  for (int round = 0; g && round < kMostRounds; ++round) {
    const double left_out = again ? -1 : g->working_corner.bent_share;
    const WorkingCorner corner = corner_of(plate, around.space, *g, assumed);
    g->working_corner = corner;
    if (corner.bent_share <= left_out) break;
    g = told(plate, around, corner);
    again = false;
  }
  return g;
}

}  // namespace

std::optional<PlanGeometry> plan_geometry(const PlateOutline& plate, const PlanSpace& assumed) {
  if (plate.rear_px.empty() || plate.contour.size() < 10) return std::nullopt;
  const auto around = surround_of(plate, assumed);
  if (!around) return std::nullopt;
  const auto g0 = assumed.corner ? told(plate, *around, *assumed.corner) : with_corner(plate, *around, assumed);
  if (!g0) return std::nullopt;
  PlanGeometry g = *g0;
  const Foremost foremost = foremost_of(plate, around->space, g, assumed, around->pixel);
  const bool rounded = g.working_corner.kind == CornerKind::kRounded;
  g.foremost = foremost.at;
  if (rounded) g.corner_foot = along_and_behind(g, g.foremost).x();
  g.length = (g.foremost - g.rear).dot(g.running);
  g.whole_length = rounded ? g.length : (g.corner - g.rear).dot(g.running);
  // What turns the edge's line moves its end, and whatever was taken for the corner there.
  g.u_corner = std::hypot(foremost.u, g.u_angle * g.edge_length / 2 / std::cos(g.edge_angle));
  g.u_hidden = foremost.u_hidden;
  return g;
}

}  // namespace glintline
