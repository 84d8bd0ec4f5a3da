#include "trace/face_decision.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

// Evidence is the logarithm of odds for the inner side. Where its scales lie was found by experiment: signs of 62
// cutters held against the scenes' truth; logistic regression on outline and plate takes 58 to 59 of them for what they
// are when it has not seen them (tests/accuracy: hands right and wrong).

/// A strap's outline shows by 0.2 to 0.45 by accident, by 0.45 to 0.85 where one lies there.
double strap_evidence(const FaceSigns& signs) {
  constexpr double kEven = 0.46;
  constexpr double kSlope = 16;
  return kSlope * (signs.strap - kEven);
}

/// The plate's underside, or a bevel that mirrors the field behind the top. Neither proves anything alone: lines that
/// the steel mirrors run under a top as well, and a rounded shoulder in the shade looks like a bevel.
double plate_evidence(const FaceSigns& signs) {
  constexpr double kEven = 0.19;
  constexpr double kSlope = 11.5;
  constexpr double kMost = 0.44;
  constexpr double kBevel = 0.28;
  // Under a rounded shoulder the bend's bright line can look like an underside.
  const double weight = signs.shoulder_mm > 0.7 ? 0.4 : 1.0;
  return kSlope * (std::clamp(weight * signs.underside, signs.bevel ? kBevel : 0.0, kMost) - kEven);
}

/// The shade, for the outer side only: from inside the middle is brighter than what lies next to the top by more than a
/// fifth in one of ten cutters, from outside, under a rounded shoulder, in half of them. That the middle is darker says
/// little: a plate lit from ahead is, seen from either side.
double recess_evidence(const FaceSigns& signs) {
  constexpr double kBright = -0.2;
  constexpr double kSlope = 1.2;
  constexpr double kMost = 2.4;
  const double bend = signs.shoulder_mm > 1.5 ? 1.5 : 1.0;
  return std::clamp(kSlope * bend * (signs.recess - kBright), -kMost, 0.0);
}

/// A gauge that stands behind its strap ends at the strap's edge: one that nothing parts from the rivet head under it,
/// and that rises too steeply for a strap that hides it, is bare. So are two in five cutters seen from outside, and
/// none of thirty from inside.
double bare_gauge_evidence(const FaceSigns& signs) {
  constexpr double kSteep = 1.3;  // 52 degrees
  constexpr double kNoEdge = 0.3;
  constexpr double kMost = 2;
  return signs.gauge_flank < kSteep ? 0 : -kMost * std::clamp(1 - signs.under_gauge / kNoEdge, 0.0, 1.0);
}

/// All signs together. One cutter in fifty shows what no sign means, a lamp's image mostly: no evidence is surer.
double inner_evidence(const FaceSigns& signs) {
  constexpr double kMisread = 0.02;
  const double odds =
      std::exp(strap_evidence(signs) + plate_evidence(signs) + recess_evidence(signs) + bare_gauge_evidence(signs));
  const double chance = (1 - kMisread) * odds / (1 + odds) + kMisread / 2;
  return std::log(chance / (1 - chance));
}

/// Two alike in a row occur only where a loop was joined, at one place of fifty or so.
constexpr double kAlikeInARow = 3.9;

/// How well all cutters' faces go together, as a logarithm of odds; bit i of `inner` says that cutter i shows its inner
/// side.
double agreement(unsigned inner, const std::vector<double>& evidence, const std::vector<int>& steps) {
  double sum = 0;
  const auto is_inner = [&](std::size_t i) { return (inner >> i & 1U) != 0; };
  for (std::size_t i = 0; i < evidence.size(); ++i) {
    sum += is_inner(i) ? evidence[i] : 0;
    for (std::size_t k = i + 1; k < evidence.size(); ++k) {
      // Neighbours four pitches apart are of the other hand, eight apart of the same; others say nothing.
      const int apart = std::abs(steps[k] - steps[i]);
      if (apart != 4 && apart != 8) continue;
      if ((is_inner(i) == is_inner(k)) != (apart == 8)) sum -= kAlikeInARow;
    }
  }
  return sum;
}

}  // namespace

void decide_faces(std::vector<CutterOutline>& cutters, const std::vector<int>& steps) {
  constexpr std::size_t kMost = 12;  // no picture shows as many; beyond them the search would grow without bounds
  std::vector<double> evidence;
  for (const CutterOutline& c : cutters) evidence.push_back(c.hidden ? 0 : inner_evidence(c.face));
  if (evidence.size() > kMost) evidence.resize(kMost);
  unsigned best = 0;
  for (unsigned tried = 1; tried < 1U << evidence.size(); ++tried) {
    if (agreement(tried, evidence, steps) > agreement(best, evidence, steps)) best = tried;
  }
  const double reached = agreement(best, evidence, steps);
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    if (i >= evidence.size()) {
      const double alone = inner_evidence(cutters[i].face);
      cutters[i].outer_face_up = alone <= 0;
      cutters[i].chance_of_other_face = 1 / (1 + std::exp(std::abs(alone)));
      continue;
    }
    cutters[i].outer_face_up = (best >> i & 1U) == 0;
    cutters[i].chance_of_other_face = 1 / (1 + std::exp(reached - agreement(best ^ 1U << i, evidence, steps)));
  }
}

}  // namespace glintline
