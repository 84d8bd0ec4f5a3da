#include "accuracy/plan_study.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <numbers>

#include "accuracy/table_row.h"
#include "locate/locate_card.h"
#include "measure/plan_measure.h"
#include "support/truth.h"
#include "trace/plan_trace.h"

namespace glintline::testing {

namespace {

constexpr double kDegrees = 180 / std::numbers::pi;
constexpr double kSmallestChipMm = 0.1;
const char* const kQuantities[] = {"length mm", "angle deg", "radius um", "p90 um"};

const CutterMeasurement* partner(const Measurements& m, const nlohmann::json& truth) {
  const Point2 corner(truth["points"]["corner"]["px"][0], truth["points"]["corner"]["px"][1]);
  const double reach = 2 / truth["mm_per_px"].get<double>();
  for (const CutterMeasurement& c : m.cutters) {
    if ((c.corner_px - corner).norm() < reach && c.measured()) return &c;
  }
  return nullptr;
}

std::string name_of(const nlohmann::json& cutter) {
  return cutter["number"].is_null() ? "-" : std::to_string(cutter["number"].get<int>());
}

std::optional<Quantity> in_degrees(const std::optional<Quantity>& q) {
  if (!q) return std::nullopt;
  Quantity out{q->value * kDegrees, q->budget};
  for (BudgetLine& line : out.budget) line.u *= kDegrees;
  return out;
}

/// True chips against found ones: a pair overlaps along the edge.
void compare_chips(StudiedEdge& edge, const nlohmann::json& truth, const CutterMeasurement& c) {
  std::vector<bool> taken(c.chips.size(), false);
  for (const auto& chip : truth["chips"]) {
    const double s = chip["s"];
    const double deepest = chip.value("s_deepest", s);
    const double half = chip["width"].get<double>() / 2 + 0.15;
    const double depth = chip["depth"];
    const bool counts = depth >= kSmallestChipMm;
    const bool corner = s < truth["edge"]["s_mm"][0].get<double>() || !chip.value("on_straight_edge", true);
    if (counts) ++(corner ? edge.broken_corners : edge.chips);
    for (std::size_t k = 0; k < c.chips.size(); ++k) {
      if (taken[k] || std::abs(c.chips[k].at_mm - deepest) > half) continue;
      taken[k] = true;
      if (!counts) break;
      ++(corner ? edge.broken_corners_found : edge.chips_found);
      edge.depth_errors_mm.push_back(c.chips[k].depth_mm.value - depth);
      edge.depth_truths_mm.push_back(depth);
      break;
    }
  }
  for (std::size_t k = 0; k < c.chips.size(); ++k) {
    if (!taken[k] && c.chips[k].depth_mm.value >= kSmallestChipMm) ++edge.chips_invented;
  }
}

void compare(PlanStudy& study, const std::string& photo, const nlohmann::json& truth, const CutterMeasurement* c) {
  StudiedEdge edge;
  edge.photo = photo;
  edge.cutter = name_of(truth);
  const double um_per_px = 1000 * truth["mm_per_px"].get<double>();
  edge.true_radius_um = truth["edge_radius_undamaged_median_um"];
  edge.true_radius_px = edge.true_radius_um / um_per_px;
  const auto add = [&](const char* quantity, double value, const std::optional<Quantity>& measured) {
    study.compared.values.push_back({photo, edge.cutter, quantity, value, measured});
  };
  add("length mm", truth["length_mm"], c ? c->length_mm : std::nullopt);
  add("angle deg", truth["edge_angle_deg"], c ? in_degrees(c->edge_angle_rad) : std::nullopt);
  add("radius um", edge.true_radius_um, c ? c->edge_radius_um : std::nullopt);
  add("p90 um", truth["edge_radius_undamaged_p90_um"], c ? c->edge_radius_p90_um : std::nullopt);
  if (c) {
    edge.radius_um = c->edge_radius_um;
    edge.limit_um = c->edge_radius_limit_um;
    edge.limit_px = edge.limit_um.value_or(0) / um_per_px;
    edge.chips_searched = c->chips_searched;
    for (const std::string& why : c->missing) {
      if (why.rfind("edge radius", 0) == 0) edge.why = why.substr(13);
    }
    compare_chips(edge, truth, *c);
  }
  study.edges.push_back(edge);
}

/// The set-up a careful user would have made: heights differ from the truth by less than they claim.
Setup setup_for(const nlohmann::json& truth, StandOff stand_off, std::size_t index) {
  Setup setup;
  setup.view = ViewKind::kPlan;
  if (stand_off == StandOff::kUnknown) return setup;
  const double height = truth["cutters"][0]["points"]["top_high"]["board_mm"][2];
  const double wrong[] = {0.15, -0.1, 0.05, -0.15, 0.1};
  setup.stand_off = KnownLength{height + wrong[index % 5], 0.15};
  return setup;
}

void study_photo(PlanStudy& study, const std::filesystem::path& path, StandOff stand_off, const Rework& rework) {
  const auto truth = truth_of(path);
  const Setup setup = setup_for(truth, stand_off, study.compared.photos.size());
  FoundCutters found;
  found.photo = path.stem().string();
  const auto photo = read_reworked(path, rework);
  const auto pose = photo.ok() ? locate_card(*photo, setup) : Result<CardPose>(photo.error());
  const auto start = std::chrono::steady_clock::now();
  const auto outlines = pose.ok() ? trace_plan(*photo, *pose) : Result<PlanOutlines>(pose.error());
  Measurements m;
  if (outlines.ok()) {
    m = measure_plan(*outlines, *pose, setup);
  } else {
    found.refused = outlines.error().what;
  }
  study.seconds_per_photo += std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  std::vector<const CutterMeasurement*> partners;
  for (const auto& cutter : truth["cutters"]) {
    const CutterMeasurement* c = partner(m, cutter);
    if (c) partners.push_back(c);
    if (!lies_over_field(truth, cutter, {"corner", "rear_outer", "rear_inner", "edge_end"})) continue;
    ++found.over_field;
    found.found += c ? 1 : 0;
    if (c && c->hand) found.hands_wrong += (*c->hand == Hand::kLeft) != (cutter["hand"] == "left") ? 1 : 0;
    compare(study, found.photo, cutter, c);
  }
  for (const CutterMeasurement& c : m.cutters) {
    if (c.measured() && std::find(partners.begin(), partners.end(), &c) == partners.end()) ++found.invented;
  }
  study.compared.photos.push_back(found);
}

std::string edge_rows(const PlanStudy& study) {
  std::string out =
      "photograph    cutter   true r um (px)   measured +- u95    limit um (px)  chips found/true invented  corner "
      "broken: told/true  remarks\n";
  for (const StudiedEdge& e : study.edges) {
    const std::string r =
        e.radius_um ? row("%6.1f +- %4.1f", e.radius_um->value, 2 * e.radius_um->u()) : "      -       ";
    const std::string limit = e.limit_um ? row("%4.0f (%.1f)", *e.limit_um, e.limit_px) : "-";
    out += row("%-14s %5s   %6.1f (%4.1f)    %s   %-12s  %d/%d %d%s  %d/%d  %s\n", e.photo.c_str(), e.cutter.c_str(),
               e.true_radius_um, e.true_radius_px, r.c_str(), limit.c_str(), e.chips_found, e.chips, e.chips_invented,
               e.chips_searched ? "" : " (not all seen)", e.broken_corners_found, e.broken_corners, e.why.c_str());
    for (std::size_t k = 0; k < e.depth_errors_mm.size(); ++k) {
      out += row("                        chip of %.3f mm: depth off by %+.3f mm\n", e.depth_truths_mm[k],
                 e.depth_errors_mm[k]);
    }
  }
  return out;
}

}  // namespace

bool radius_right(const StudiedEdge& edge) {
  return edge.radius_um &&
         std::abs(edge.radius_um->value - edge.true_radius_um) <= std::max(6.0, 0.15 * edge.true_radius_um);
}

void EdgeCounts::add(const StudiedEdge& edge) {
  ++edges;
  if (edge.radius_um) {
    ++radii;
    right += radius_right(edge) ? 1 : 0;
  } else if (edge.limit_um) {
    ++limits;
    limits_hold += edge.true_radius_um < *edge.limit_um ? 1 : 0;
  }
  invented += edge.chips_invented;
  broken_corners += edge.broken_corners;
  broken_corners_found += edge.broken_corners_found;
  if (!edge.chips_searched) return;
  ++searched;
  chips += edge.chips;
  found += edge.chips_found;
  whole += edge.chips == 0 ? 1 : 0;
}

EdgeCounts counts_of(const PlanStudy& study) {
  EdgeCounts counts;
  for (const StudiedEdge& edge : study.edges) counts.add(edge);
  return counts;
}

std::string counted_edges(const EdgeCounts& c) {
  return row("radii within 15 %% or 6 um: %d of %d given; limits that hold: %d of %d stated; %d edges\n", c.right, c.radii,
             c.limits_hold, c.limits, c.edges) +
         row("chips of 0.1 mm and more: %d of %d found on the %d edges seen whole, %d invented; broken corners: %d of %d\n",
             c.found, c.chips, c.searched, c.invented, c.broken_corners_found, c.broken_corners);
}

PlanStudy study_plans(const std::filesystem::path& folder, StandOff stand_off, const Rework& rework) {
  const auto paths = photographs_of(folder, "plan");
  PlanStudy study;
  for (const auto& path : paths) study_photo(study, path, stand_off, rework);
  if (!paths.empty()) study.seconds_per_photo /= static_cast<double>(paths.size());
  return study;
}

std::string table_of(const PlanStudy& study, const std::string& title) {
  std::string out = title + "\n";
  for (const FoundCutters& f : study.compared.photos) {
    out += row("%-14s %d of %d top plates found, %d invented, %d hands wrong%s\n", f.photo.c_str(), f.found,
               f.over_field, f.invented, f.hands_wrong, f.refused ? (": " + *f.refused).c_str() : "");
  }
  for (const Compared& c : study.compared.values) {
    if (!c.measured) continue;
    out +=
        row("%-14s %5s  %-10s truth %8.3f  measured %8.3f  off %+7.3f  u95 %6.3f\n", c.photo.c_str(), c.cutter.c_str(),
            c.quantity.c_str(), c.truth, c.measured->value, c.measured->value - c.truth, 2 * c.measured->u());
  }
  out += "\nquantity     wanted answered   share    bias  median|e|    95%|e|  coverage  median u95\n";
  for (const char* quantity : kQuantities) {
    const Summary s = summary_of(study.compared, quantity);
    out += row("%-12s %6d %8d %6.0f%% %+8.3f %9.3f %9.3f %8.0f%% %11.3f\n", quantity, s.wanted, s.answered,
               100 * s.share_answered(), s.bias, s.median_error, s.p95, 100 * s.coverage, s.median_u95);
  }
  return out + counted_edges(counts_of(study)) + "\n" + edge_rows(study);
}

}  // namespace glintline::testing
