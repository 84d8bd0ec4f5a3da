#include "judge/wedge.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "judge/standing.h"

namespace glintline {

namespace {

constexpr double kDeg = std::numbers::pi / 180;
/// Half the spread between what a file a fifth proud cuts and what the handbook names, doubled for worn files and
/// careless height (proposed, no source).
constexpr double kWedgeRad = 56 * kDeg;
constexpr double kUWedgeRad = 7 * kDeg;
/// Top plates are 4 to 6.5 mm wide (from memory).
constexpr double kPlateWidthMm = 5.2;
constexpr double kUPlateWidthMm = 0.7;

void scale(Quantity& q, double factor) {
  q.value *= factor;
  for (BudgetLine& line : q.budget) line.u *= std::abs(factor);
}

void append(Quantity& to, const Quantity& from) {
  to.value += from.value;
  to.budget.insert(to.budget.end(), from.budget.begin(), from.budget.end());
}

/// x times a factor that is itself uncertain.
Quantity times(Quantity x, const Quantity& factor) {
  const double u = std::abs(x.value) * factor.u();
  scale(x, factor.value);
  if (u > 0) x.budget.push_back({Source::kDefinition, u});
  return x;
}

const Chip* deepest_that_matters(const CutterMeasurement& cutter, const Limits& limits) {
  const Chip* found = nullptr;
  for (const Chip& chip : cutter.chips) {
    if (against_most(chip.depth_mm, limits.chip_depth_mm.value) == Standing::kWithin) continue;
    if (!found || chip.depth_mm.value > found->depth_mm.value) found = &chip;
  }
  return found;
}

/// Proven sharp over the whole edge: nothing needs to come off.
bool sharp(const CutterMeasurement& cutter, const Limits& limits) {
  const double most = limits.sharp_radius_um.value;
  if (cutter.edge_radius_p90_um) return against_most(*cutter.edge_radius_p90_um, most) == Standing::kWithin;
  if (cutter.edge_radius_um) return against_most(*cutter.edge_radius_um, most) == Standing::kWithin;
  return cutter.edge_radius_limit_um && *cutter.edge_radius_limit_um <= most;
}

/// Lost at the corner where the edge is filed to its angle about its inner end.
std::optional<Quantity> angle_need(const CutterMeasurement& cutter, const Limits& limits, std::optional<double> width) {
  if (!cutter.edge_angle_rad || !limits.filing_angle_rad) return std::nullopt;
  const Quantity& angle = *cutter.edge_angle_rad;
  if (against_most(angle, limits.most_edge_angle_rad.value) != Standing::kBeyond) return std::nullopt;
  const double w = width.value_or(kPlateWidthMm);
  const double turn = std::tan(angle.value) - std::tan(limits.filing_angle_rad->value);
  Quantity back{w * turn, {}};
  back.budget.push_back({Source::kEdge, w * angle.u() / std::pow(std::cos(angle.value), 2)});
  if (!width) back.budget.push_back({Source::kDefinition, kUPlateWidthMm * std::abs(turn)});
  return back;
}

}  // namespace

double wedge_of_file_rad(double share) { return std::acos(1 - 2 * share); }

Quantity wedge_angle_rad() { return {kWedgeRad, {{Source::kDefinition, kUWedgeRad}}}; }

double lost_tip(double radius, double wedge_rad) { return radius * (1 / std::tan(wedge_rad / 2) - 1); }

std::optional<Quantity> working_radius_um(const CutterMeasurement& cutter) {
  if (cutter.edge_radius_p90_um) return cutter.edge_radius_p90_um;
  if (cutter.edge_radius_um) return cutter.edge_radius_um;
  if (!cutter.edge_radius_limit_um) return std::nullopt;
  const double half = *cutter.edge_radius_limit_um / 2;
  return Quantity{half, {{Source::kDefinition, half / std::numbers::sqrt3}}};
}

Quantity along_per_square(const CutterMeasurement& cutter, const Limits& limits) {
  constexpr double kUUnknownRad = 2.5 * kDeg;  // 25 to 35 degrees are filed (ICFR, MSA)
  const double as_filed = limits.filing_angle_rad ? limits.filing_angle_rad->value : 30 * kDeg;
  const double angle = cutter.edge_angle_rad ? cutter.edge_angle_rad->value : as_filed;
  const double u = cutter.edge_angle_rad ? cutter.edge_angle_rad->u() : kUUnknownRad;
  return {1 / std::cos(angle), {{Source::kDefinition, u * std::tan(angle) / std::cos(angle)}}};
}

std::optional<EdgeNeed> edge_need(const CutterMeasurement& cutter, const Limits& limits,
                                  std::optional<double> plate_width_mm) {
  const std::optional<Quantity> radius_um = working_radius_um(cutter);
  const Chip* chip = deepest_that_matters(cutter, limits);
  if (!radius_um && !chip && !cutter.chips_searched) return std::nullopt;

  if (!chip && sharp(cutter, limits)) return EdgeNeed{{}, "nothing", true, {}, 0};

  const Quantity along = along_per_square(cutter, limits);
  Quantity radius = radius_um.value_or(Quantity{});
  scale(radius, 0.001);
  EdgeNeed need{times(radius, along), "the rounding", true, {}, 0};
  need.flat_behind_mm = need.back_mm.value;
  const Quantity wedge = wedge_angle_rad();
  need.lost_tip_mm = times(radius, along);
  const double half_sine = std::sin(wedge.value / 2);
  need.lost_tip_mm = times(
      need.lost_tip_mm, {lost_tip(1, wedge.value), {{Source::kDefinition, wedge.u() / (2 * half_sine * half_sine)}}});
  if (chip) {
    Quantity beside = cutter.edge_radius_um ? *cutter.edge_radius_um : radius_um.value_or(Quantity{});
    scale(beside, 0.001);
    Quantity square = chip->depth_mm;
    append(square, beside);
    const Quantity back = times(square, along);
    if (back.value > need.back_mm.value) {
      need.back_mm = back;
      need.reason = "a chip";
      need.proven = against_most(chip->depth_mm, limits.chip_depth_mm.value) == Standing::kBeyond;
    }
  }
  if (const auto turn = angle_need(cutter, limits, plate_width_mm)) {
    append(need.back_mm, *turn);
    if (turn->value > need.back_mm.value / 2) need.reason = "the edge angle";
  }
  return need;
}

}  // namespace glintline
