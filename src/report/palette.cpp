#include "report/palette.h"

#include <algorithm>
#include <cmath>

namespace glintline {

Stroke stroke_of(MarkRole role) {
  switch (role) {
    case MarkRole::kRivetLine:
      return {{1.0, 1.0, 1.0}, 2.0, true};
    case MarkRole::kRivet:
      return {{0.85, 0.88, 0.92}, 1.8};
    case MarkRole::kTopPlate:
      return {{1.0, 0.74, 0.0}, 3.2};
    case MarkRole::kGauge:
      return {{0.35, 1.0, 0.62}, 3.2};
    case MarkRole::kDrop:
      return {{1.0, 1.0, 1.0}, 2.2, true};
    case MarkRole::kLength:
      return {{1.0, 0.62, 0.85}, 3.0};
    case MarkRole::kCorner:
      return {{1.0, 1.0, 1.0}, 2.4};
    case MarkRole::kHook:
      return {{0.80, 0.62, 1.0}, 3.0};
    case MarkRole::kEdge:
      return {{1.0, 0.85, 0.35}, 3.0};
    case MarkRole::kEdgeLine:
      return {{0.75, 0.95, 1.0}, 2.0, true};
    case MarkRole::kChip:
      return {{1.0, 0.35, 0.25}, 3.0};
  }
  return {kPlainWhite, 2.0};
}

const char* legend_of(MarkRole role) {
  switch (role) {
    case MarkRole::kRivetLine:
      return "line of this cutter's two rivets";
    case MarkRole::kRivet:
      return "rivet head";
    case MarkRole::kTopPlate:
      return "top plate";
    case MarkRole::kGauge:
      return "depth gauge";
    case MarkRole::kDrop:
      return "gauge drop, between these levels";
    case MarkRole::kLength:
      return "length, rear end to working corner";
    case MarkRole::kCorner:
      return "working corner";
    case MarkRole::kHook:
      return "hook angle, taken here";
    case MarkRole::kEdge:
      return "cutting edge, thicker where rounder";
    case MarkRole::kEdgeLine:
      return "line of the undamaged edge";
    case MarkRole::kChip:
      return "chip";
  }
  return "";
}

Banner banner_of(const InspectedCutter& cutter) {
  if (!cutter.measured.over_field) return {{0.80, 0.80, 0.78}, kInk};
  switch (cutter.verdict.action) {
    case Action::kRetire:
    case Action::kGaugeTooLow:
      return {{0.66, 0.07, 0.10}, kPlainWhite};
    case Action::kUndecided:
      return {{0.30, 0.35, 0.42}, kPlainWhite};
    case Action::kFile:
    case Action::kLowerGauge:
    case Action::kTouchUp:
      return {{1.0, 0.72, 0.10}, kInk};
    case Action::kLeave:
      return {{0.05, 0.42, 0.26}, kPlainWhite};
  }
  return {{0.30, 0.35, 0.42}, kPlainWhite};
}

Rgb colour_of_radius(double radius_um) {
  if (!std::isfinite(radius_um)) return {0.6, 0.6, 0.6};
  constexpr double kYellow_um = 25;
  constexpr double kRed_um = 50;
  const double to_yellow = std::clamp(radius_um / kYellow_um, 0.0, 1.0);
  const double to_red = std::clamp((radius_um - kYellow_um) / (kRed_um - kYellow_um), 0.0, 1.0);
  return {1.0 - 0.05 * to_red, 1.0 - 0.15 * to_yellow - 0.72 * to_red, 1.0 - 0.85 * to_yellow};
}

}  // namespace glintline
