#include <algorithm>
#include <array>
#include <cmath>

#include "base/text.h"
#include "judge/remedy.h"
#include "judge/ruling.h"
#include "judge/standing.h"
#include "judge/wedge.h"
#include "judge/wording.h"

namespace glintline {

namespace {

constexpr const char* kByHand =
    "look at the edge against the light: a bright line is rounding, a sharp edge shows none";

Ruling not_of_this_view(const char* quantity) {
  Ruling ruling;
  ruling.finding = {quantity, Standing::kUnknown,
                    std::string(quantity) + " not judged from this view: photograph in plan"};
  return ruling;
}

bool dull_in_places(const CutterMeasurement& cutter, const Limits& limits) {
  return cutter.edge_radius_p90_um &&
         against_most(*cutter.edge_radius_p90_um, limits.dull_radius_um.value) == Standing::kBeyond;
}

Ruling rule_measured(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  const Quantity& radius = *cutter.edge_radius_um;
  const Standing sharp = against_most(radius, limits.sharp_radius_um.value);
  const Standing dull = against_most(radius, limits.dull_radius_um.value);
  const std::string sharp_to = um_text(limits.sharp_radius_um.value) + " " + source_text(limits.sharp_radius_um);
  const std::string dull_from = um_text(limits.dull_radius_um.value) + " " + source_text(limits.dull_radius_um);
  Ruling ruling;
  ruling.finding = {"edge radius", Standing::kUndecided, "edge radius " + um_text(radius)};
  std::string& text = ruling.finding.text;
  if (dull == Standing::kBeyond) {
    ruling.calls_for = Action::kFile;
    text += ": dull, over " + dull_from + ": file until the bright line is gone";
  } else if (dull_in_places(cutter, limits)) {
    ruling.calls_for = Action::kFile;
    text += ": dull in places, a tenth of the edge at " + um_text(*cutter.edge_radius_p90_um) + " or more, over " +
            dull_from + ": file until the bright line is gone";
  } else if (dull != Standing::kWithin) {
    if (sharp == Standing::kBeyond) ruling.also.push_back(Action::kTouchUp);
    text += ": worn or dull, too close to " + dull_from + " to call";
  } else if (sharp == Standing::kBeyond) {
    ruling.calls_for = Action::kTouchUp;
    text += ": worn, over " + sharp_to + ": touch it up, 2 to 3 strokes";
  } else if (sharp == Standing::kUndecided) {
    text += ": sharp or a little worn, too close to " + sharp_to + " to call";
  } else {
    ruling.finding.standing = Standing::kWithin;
    text += ": sharp; worn from " + sharp_to;
  }
  if (ruling.calls_for) {
    ruling.finding.standing = Standing::kBeyond;
  } else if (ruling.finding.standing == Standing::kUndecided) {
    ruling.would_decide = remedies(radius, kByHand, view);
  }
  return ruling;
}

/// No rounding seen but a line of light that is too narrow to be measured; any over `limit_um` would have been.
Ruling rule_unseen(double limit_um, const Limits& limits) {
  const std::string unseen = "no rounding seen above " + um_text(limit_um) + " at this scale";
  const std::string dull =
      "dull from " + um_text(limits.dull_radius_um.value) + " " + source_text(limits.dull_radius_um);
  Ruling ruling;
  ruling.finding = {"edge radius", Standing::kWithin, ""};
  if (limit_um <= limits.sharp_radius_um.value) {
    ruling.finding.text = unseen + ": sharp; worn from " + um_text(limits.sharp_radius_um.value) + " " +
                          source_text(limits.sharp_radius_um);
  } else if (limit_um <= limits.dull_radius_um.value) {
    ruling.finding.text = unseen + ": not dull, " + dull + "; sharp or worn is not told apart";
  } else {
    ruling.finding.standing = Standing::kUndecided;
    ruling.finding.text = "a line of light along the edge, too narrow to measure at this scale: rounded by less than " +
                          um_text(limit_um) + ", " + dull;
    ruling.would_decide = {"come closer: more pixels to the millimetre at the edge", kByHand};
  }
  return ruling;
}

Ruling rule_rounding(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  Ruling ruling;
  if (cutter.edge_radius_um) {
    ruling = rule_measured(cutter, limits, view);
  } else if (cutter.edge_radius_limit_um) {
    ruling = rule_unseen(*cutter.edge_radius_limit_um, limits);
  } else if (view == ViewKind::kProfile) {
    return not_of_this_view("edge radius");
  } else {
    ruling.finding = {"edge radius", Standing::kUnknown, "edge radius not measured: sharp or dull is not known"};
    ruling.would_decide = {"other light: from ahead of the cutter, square to its edge, about 30 degrees up", kByHand};
  }
  ruling.needed = true;
  return ruling;
}

std::string chip_text(const Chip& chip) {
  if (chip.at_corner) return "working corner broken off: " + mm_text(chip.depth_mm) + " deep";
  return "chip " + mm_text(chip.depth_mm) + " deep at " + mm_text(chip.at_mm) + " from the working corner";
}

/// Every chip's standing against the depth that matters, the deepest first among equals.
const Chip* deepest(const std::vector<Chip>& chips, const Limits& limits, Standing standing) {
  const Chip* found = nullptr;
  for (const Chip& chip : chips) {
    if (against_most(chip.depth_mm, limits.chip_depth_mm.value) != standing) continue;
    if (!found || chip.depth_mm.value > found->depth_mm.value) found = &chip;
  }
  return found;
}

Ruling rule_chips(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  if (!cutter.chips_searched && cutter.chips.empty() && view == ViewKind::kProfile) return not_of_this_view("chips");
  Ruling ruling;
  ruling.needed = true;
  const std::string matters = mm_text(limits.chip_depth_mm.value) + " " + source_text(limits.chip_depth_mm);
  if (const Chip* chip = deepest(cutter.chips, limits, Standing::kBeyond)) {
    ruling.calls_for = Action::kFile;
    ruling.finding = {"chips", Standing::kBeyond,
                      chip_text(*chip) + ": file back at least " + mm_text(edge_need(cutter, limits)->back_mm.value) +
                          " along the chain"};
    if (cutter.chips.size() > 1)
      ruling.notes.push_back(counted(static_cast<int>(cutter.chips.size()), "chip") + " found; the deepest decides");
    ruling.notes.emplace_back("a stone's nick is hard: if the file skips, break it with a stone first");
  } else if (const Chip* near = deepest(cutter.chips, limits, Standing::kUndecided)) {
    ruling.finding = {"chips", Standing::kUndecided, chip_text(*near) + ": too close to " + matters + " to call"};
    ruling.would_decide = remedies(near->depth_mm, kByHand, view);
  } else if (!cutter.chips_searched) {
    ruling.finding = {"chips", Standing::kUnknown, "chips not searched for: whole or chipped is not known"};
    ruling.would_decide = {"a plan picture with the whole edge free, clean and in focus", kByHand};
  } else {
    ruling.finding = {"chips", Standing::kWithin,
                      cutter.chips.empty() ? "no chip of " + matters + " or more" : "no chip deeper than " + matters};
  }
  return ruling;
}

/// What must come off where a need is proven, along the chain.
std::optional<Stock> stock_of(const CutterMeasurement& cutter, const EdgeRuling& edge, const Limits& limits) {
  if (edge.rounding.calls_for != Action::kFile && edge.chips.calls_for != Action::kFile) return std::nullopt;
  const std::optional<EdgeNeed> need = edge_need(cutter, limits);
  if (!need) return std::nullopt;
  return Stock{need->back_mm, need->reason};
}

}  // namespace

EdgeRuling rule_edge(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  EdgeRuling edge;
  edge.rounding = rule_rounding(cutter, limits, view);
  edge.chips = rule_chips(cutter, limits, view);
  edge.stock = stock_of(cutter, edge, limits);
  return edge;
}

}  // namespace glintline
