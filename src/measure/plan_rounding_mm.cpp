#include "measure/plan_rounding_mm.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/text.h"
#include "math/rectangular.h"
#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kDegree = M_PI / 180;
/// What is believed of start and horizon (rectangular): the fit has a dim flat's rounding begin to shine 4 degrees
/// after the flat, where a broad light's does (0 to 8 degrees stay dark); a lamp ahead, 20 to 45 degrees up, meets
/// normals of 22 to 35 degrees, from which ground steel spreads it by 10 to 20 (from memory): 1 to 10 take in most of
/// either. A flashing flat hides 4 to 16; the horizon is the room's and the card's, within 4 degrees (by experiment:
/// with 0 to 11 and 5, of 126 radii of rendered edges and their reworks none lay outside u95).
constexpr double kDimStartLater = 1.5 * kDegree;
constexpr double kDimStartHalf = 4.5 * kDegree;
constexpr double kFlashStartHalf = 6 * kDegree;
constexpr double kHorizonHalf = 4 * kDegree;
/// Strips under so many pixels of radius, or with a lit part of under so many blurs, are not resolved: a line of that
/// width is only a third wider than one of no width, and as wide as a blur wrong by a third makes it.
constexpr double kLeastRadiusPx = 2.5;
constexpr double kLeastLitBlurs = 2.4;
/// In softer pictures the blur itself is known to a quarter only (by experiment), and with it any width: they bound.
constexpr double kMostBlurPx = 1.25;
/// A small lamp reaches some normals only: a strip that is not resolved may be this much wider than it looks.
constexpr double kPartlyLit = 1.3;
/// Shares of the undamaged edge that must show its strip for a value, and for a limit; and so many stations.
constexpr double kLeastShare = 0.3;
constexpr std::size_t kLeastStations = 8;
constexpr double kLitForLimit = 0.5;  ///< share of those that must be brighter than flat and ground
/// A narrow line whose width varies by more than this share along the edge is lit by chance, in places: it neither
/// tells a radius nor bounds it. Looked at up to so many limits; wider strips are told from their ends.
constexpr double kUneven = 0.3;
constexpr double kUnevenLimits = 1.5;
/// A radius whose u95 is more than this share of it only bounds.
constexpr double kLeastKnown = 0.5;
/// The fit's errors (shading, scratches) last over about so much of the edge.
constexpr double kCorrelationMm = 0.4;

/// Share of the rounding, seen from the camera, up to the horizon.
double lit_share(const StripModel& m) {
  return (std::sin(m.horizon_rad) + std::sin(m.lean_rad)) / (1 + std::sin(m.lean_rad));
}

/// Without a slip narrower strips (px of radius) are only bounded: by experiment, tests/accuracy.
constexpr double kLeastUntoldPx = 3.5;

/// Dull saw cutters' edges are rounded by 20 to 50 um (TRADE.md, from memory). Where nothing under twice as much is
/// resolved, a strip that is so wide is more often lower metal that looks out ahead of the edge.
constexpr double kMostLeastUm = 100;

/// Where no slip tells the mirror part from the gullet that it mirrors, the line of light may end at the horizon, as
/// the fit has it, or reach as far as the outline, because steel scatters too: the radius lies between.
double untold_factor(const StripModel& m) { return m.mirror_told ? 1 : (1 + lit_share(m)) / 2; }
double untold_u_relative(const StripModel& m) {
  return m.mirror_told ? 0 : (1 - lit_share(m)) / 2 * kRectangular / untold_factor(m);
}

/// Elevation of a lamp in front of the edge, rectangular: it is asked for at about 30 degrees, nobody measures it.
constexpr double kLampElevation = 35 * kDegree;
constexpr double kLampElevationHalf = 20 * kDegree;

/// Radius over what the fit took for it where a lamp reaches some normals only. The fit has the lamp's image begin
/// where the flat ends, but its middle lies where the normal halves the angle between sight line and lamp, and how far
/// that is from the outline tells r. 1 where the light reaches all of it.
double partly_factor(const StripModel& m, double lamp_elevation) {
  if (!m.partly) return 1;
  const double middle = (2 - std::sin(m.partly->from_rad) - std::sin(m.partly->to_rad)) / 2;
  return middle / (1 - std::sin(m.horizon_rad - lamp_elevation / 2));
}

double partly_u_relative(const StripModel& m) {
  const double low = partly_factor(m, kLampElevation - kLampElevationHalf * kRectangular);
  const double high = partly_factor(m, kLampElevation + kLampElevationHalf * kRectangular);
  return std::abs(high - low) / 2 / partly_factor(m, kLampElevation);
}

/// Full strip width over radius as trace assumed it, and what a strip width w means under another lean.
double radius_px(const EdgeStation& station, const StripModel& model, double lean, double start_shift,
                 double horizon_shift) {
  const double traced = station.strip_px / (1 + std::sin(model.lean_rad));
  const double lit = traced * (std::sin(model.horizon_rad) - std::sin(model.start_rad));
  const double turned = lean - model.lean_rad;
  const double horizon = model.horizon_rad - turned / 2 + horizon_shift;
  const double start = model.start_rad - turned + start_shift + (model.flat_flashes ? 0 : kDimStartLater);
  return untold_factor(model) * partly_factor(model, kLampElevation) * lit /
         std::max(0.1, std::sin(horizon) - std::sin(start));
}

/// How far the strips' outlines usually lie behind the edge's line.
double usual_recession(const PlateOutline& plate, const PlanGeometry& g, const PlateSpace& space) {
  std::vector<double> behind;
  for (const EdgeStation& station : plate.edge) {
    if (station.strip != StripState::kUnlit) behind.push_back(along_and_behind(g, space.at(station.outline_px)).y());
  }
  return behind.empty() ? 0 : median(std::move(behind));
}

bool inside_chip(const std::vector<FoundChip>& chips, double s, double margin) {
  return std::any_of(chips.begin(), chips.end(),
                     [&](const FoundChip& c) { return s > c.from_mm - margin && s < c.to_mm + margin; });
}

/// Relative standard uncertainties that all stations share.
std::vector<BudgetLine> shared_relative(const PlateOutline& plate, const PlanGeometry& g, double u_slope_rad) {
  EdgeStation unit;
  unit.strip_px = 1;
  const StripModel& m = plate.strip;
  const double nominal = radius_px(unit, m, g.lean, 0, 0);
  const double start = (m.flat_flashes ? kFlashStartHalf : kDimStartHalf) * kRectangular;
  const auto relative = [&](double up, double down) { return std::abs(up - down) / 2 / nominal; };
  const double by_slope =
      relative(radius_px(unit, m, g.lean + u_slope_rad, 0, 0), radius_px(unit, m, g.lean - u_slope_rad, 0, 0));
  const double by_start = relative(radius_px(unit, m, g.lean, start, 0), radius_px(unit, m, g.lean, -start, 0));
  const double h = kHorizonHalf * kRectangular;
  const double by_horizon = relative(radius_px(unit, m, g.lean, 0, h), radius_px(unit, m, g.lean, 0, -h));
  return {{Source::kStandOff, by_slope},
          {Source::kDefinition, std::hypot(by_start, by_horizon)},
          {Source::kDefinition, untold_u_relative(m)},
          {Source::kDefinition, partly_u_relative(m)},
          {Source::kDefinition, m.u_light}};
}

Quantity with_budget(double radius_um, double u_noise_um, double u_blur_um, const std::vector<BudgetLine>& shared) {
  Quantity q{radius_um, {{Source::kEdge, std::hypot(u_noise_um, u_blur_um)}}};
  for (const BudgetLine& line : shared) q.budget.push_back({line.source, line.u * radius_um});
  return q;
}

/// Values that the chart's usable points hold.
struct Usable {
  std::vector<double> radius_um;
  std::vector<double> u_um;
  std::vector<double> limit_um;
  double share = 0;      ///< of the undamaged edge
  double lit_share = 0;  ///< of the usable points
};

/// Standard uncertainty of a radius, px, because the blur is known to some 6 % only (by experiment: tests/accuracy).
/// While the strip is hardly wider than the blur, only the sum of their variances is seen, w²/12 + s²: dw = 12 s ds /
/// w; once both ends are resolved each of them moves by that share of the blur at most.
constexpr double kUBlur = 0.06;
double u_by_blur(double radius, const StripModel& model) {
  const double s = model.blur_px;
  const double lit = std::sin(model.horizon_rad) - std::sin(model.start_rad);
  const double width = std::max(0.5, radius * lit);
  const double merged = 12 * s * (kUBlur * s) / width * std::exp(-std::pow(width / (4 * s), 2));
  return std::hypot(merged, kUBlur * s) / lit;
}

/// The chart keeps the outline where the strips told no radius.
void forget_radii(EdgeChart& chart) {
  for (EdgeChartPoint& p : chart) p.radius_um = p.u_radius_um = std::numeric_limits<double>::quiet_NaN();
}

/// Stations whose strips may tell a radius, and with them the edge's chart.
Usable chart_stations(const PlateOutline& plate, const PlanGeometry& g, const PlateSpace& space,
                      const std::vector<FoundChip>& chips, double u_shared, EdgeChart& chart) {
  const double um_per_px = 1000 * g.mm_per_px;
  const double usual = usual_recession(plate, g, space);
  const double from = std::max(0.05 * g.edge_length, g.straight_from);
  Usable out;
  int undamaged = 0;
  for (const EdgeStation& station : plate.edge) {
    const Point2 at = along_and_behind(g, space.at(station.outline_px));
    EdgeChartPoint point;
    point.s_mm = at.x();
    if (station.outline_seen) point.recession_mm = at.y();
    const bool straight = at.x() > from && at.x() < 0.97 * g.edge_length;
    const bool whole = straight && !inside_chip(chips, at.x(), 0.08);
    const bool ahead = at.y() < usual - kMostAheadMm;
    if (whole) ++undamaged;
    if (whole && !ahead && station.strip != StripState::kUnlit) {
      const double r = radius_px(station, plate.strip, g.lean, 0, 0) * um_per_px;
      const double u = r * station.u_strip_px / station.strip_px;
      point.state = station.strip;
      point.radius_um = r;
      point.u_radius_um = std::hypot(u, u_shared * r);
      out.radius_um.push_back(r);
      out.u_um.push_back(u);
      out.limit_um.push_back(r * station.strip_limit_px / station.strip_px);
      out.lit_share += station.strip == StripState::kLit ? 1 : 0;
    }
    chart.push_back(point);
  }
  const double count = static_cast<double>(out.radius_um.size());
  out.share = undamaged > 0 ? count / undamaged : 0;
  out.lit_share /= std::max(1.0, count);
  return out;
}

/// What the picture resolves of the strips.
struct Resolved {
  double least_um = 0;  ///< narrower strips are lines of no width
  bool soft = false;
  bool narrow = false;
};

Resolved resolved(const Usable& usable, const StripModel& m, double um_per_px) {
  const double lit = std::sin(m.horizon_rad) - std::sin(m.start_rad);
  Resolved out;
  out.least_um =
      std::max(m.mirror_told ? kLeastRadiusPx : kLeastUntoldPx, kLeastLitBlurs * m.blur_px / lit) * um_per_px;
  out.soft = m.blur_px > kMostBlurPx;
  out.narrow = usable.radius_um.size() < kLeastStations || out.soft || median(usable.radius_um) < out.least_um;
  return out;
}

/// Why the strips neither tell a radius nor bound it; empty where they do.
std::string untold(const Usable& usable, const Resolved& seen, const StripModel& m) {
  // A dark line that is not resolved bounds nothing: it may be a part of the rounding only.
  if (usable.share < kLeastShare || usable.radius_um.size() < kLeastStations ||
      (seen.narrow && usable.lit_share < kLitForLimit)) {
    return "edge radius: the rounding is not lit, it looks like the metal around it: put one lamp ahead of the "
           "cutter, square to its edge and about 30 degrees up to the side";
  }
  if (!seen.narrow && seen.least_um > kMostLeastUm) {
    return "edge radius: in a picture so coarse, what looks like a rounding may be lower metal ahead of the edge: come "
           "closer, over the close card";
  }
  const double typical = median(usable.radius_um);
  if (typical < kUnevenLimits * seen.least_um && mad_sigma(usable.radius_um) > kUneven * typical) {
    return "edge radius: the rounding flashes unevenly, in a line hardly wider than the picture's blur: "
           "come closer, or use a broad light ahead of the cutter";
  }
  if (seen.narrow && m.flat_flashes) {
    return "edge radius: the top plate mirrors the light, which hides where the rounding begins: lower the lamp "
           "until the plate looks grey and its edge bright";
  }
  return "";
}

/// Says that no rounding above `most_um` would have gone unseen.
void bound(EdgeRounding& out, double most_um, double um_per_px, const Resolved& seen, const StripModel& m) {
  out.limit_um = std::max(kLeastRadiusPx * um_per_px, most_um);
  out.missing = "edge radius: no rounding seen above " + fixed(*out.limit_um, 0) + " um at this scale" +
                (m.mirror_told ? "" : "; a slip of paper in the field's colour under the edge tells more") +
                (seen.soft ? "; the edge is out of focus: focus on the top plate" : "");
}

}  // namespace

EdgeRounding edge_rounding(const PlateOutline& plate, const PlanGeometry& g, const PlanSpace& assumed,
                           const std::vector<FoundChip>& chips, double u_slope_rad) {
  EdgeRounding out;
  const StripModel& m = plate.strip;
  const double um_per_px = 1000 * g.mm_per_px;
  const std::vector<BudgetLine> shared = shared_relative(plate, g, u_slope_rad);
  double u_shared = 0;
  for (const BudgetLine& line : shared) u_shared = std::hypot(u_shared, line.u);
  const PlateSpace space(assumed, plate.corner_px, g.running);
  const Usable usable = chart_stations(plate, g, space, chips, u_shared, out.chart);
  const Resolved seen = resolved(usable, m, um_per_px);
  out.missing = untold(usable, seen, m);
  if (out.missing.empty() && seen.narrow) {
    bound(out, kPartlyLit * percentile(usable.limit_um, 0.75) / untold_factor(m), um_per_px, seen, m);
  }
  if (!out.missing.empty()) {
    forget_radii(out.chart);
    return out;
  }
  out.limit_um = kLeastRadiusPx * um_per_px;
  const double typical = median(usable.radius_um);
  const double lengths = std::max(1.0, g.edge_length * usable.share / kCorrelationMm);
  const double noise =
      median(usable.u_um) / std::sqrt(lengths) + 1.25 * mad_sigma(usable.radius_um) / std::sqrt(lengths);
  const double blur = u_by_blur(typical / um_per_px, m) * um_per_px;
  // A strip seen in part only leaves its ends to guesswork.
  const double partly = (1 - usable.lit_share) * 0.05 * typical;
  // The stations' radii are smoothed along the edge: what each may differ from its own is a part of their scatter.
  const double high = mixture_quantile(usable.radius_um, usable.u_um, 0.9);
  out.median_um = with_budget(typical, std::hypot(noise, partly), blur, shared);
  if (2 * out.median_um->u() > kLeastKnown * typical) {
    bound(out, typical + 2 * out.median_um->u(), um_per_px, seen, m);
    out.median_um.reset();
    forget_radii(out.chart);
    return out;
  }
  out.p90_um = with_budget(high, std::hypot(1.7 * noise, partly), blur * typical / high, shared);
  return out;
}

}  // namespace glintline
