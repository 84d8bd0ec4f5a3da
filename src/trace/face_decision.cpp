#include "trace/face_decision.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

/// Evidence of the shade for the outer side: from inside the middle is brighter than what lies next to the top by more
/// than a fifth in one of ten cutters, from outside, under a rounded shoulder, in half of them (by experiment:
/// tests/accuracy). That the middle is darker says little: a plate lit from ahead is, seen from either side.
double recess_evidence(const FaceSigns& signs) {
  constexpr double kBright = -0.2;
  constexpr double kSlope = 0.6;
  const double bend = signs.shoulder_mm > 1.5 ? 1.5 : 1.0;
  return std::clamp(kSlope * bend * (signs.recess - kBright), -kSlope * bend, 0.0);
}

/// Evidence for the inner side, over 0, or the outer, under 0; 1 and -1 are clear, and no evidence reaches 3: a flash
/// of a lamp can look like any part. Where the scales lie was found by experiment (tests/accuracy: hands right and
/// wrong).
double inner_evidence(const FaceSigns& signs) {
  // Under a rounded shoulder the bend's bright line can look like an underside.
  const double weight = signs.shoulder_mm > 0.7 ? 0.4 : 1.0;
  // No sign proves anything alone: a line that the steel mirrors crosses a body like a strap's edge does, and a rounded
  // shoulder in the shade looks like a bevel behind the top.
  constexpr double kMostAlone = 0.8;
  const double strap = signs.strap / 0.26;
  // One as clear as this is seldom an accident: two in sixty cutters seen from outside, half of those from inside.
  constexpr double kClearStrap = 0.55;
  const double clear = signs.strap > kClearStrap ? 0.12 : 0.0;
  const double plate = std::max(weight * signs.underside / 0.35, signs.bevel ? kMostAlone : 0.0);
  const double sum = 2 * (std::min(kMostAlone, strap) + clear + plate - 1.3) + recess_evidence(signs);
  // But it speaks against the outer side, the more the clearer it is.
  const double doubt = sum < 0 ? 1 + std::max(0.0, strap - kMostAlone) : 1;
  return sum / (1 + std::abs(sum) / 3) / doubt;
}

/// Two alike in a row occur only where a loop was joined: believed when both are clear.
constexpr double kAlikeInARow = 2.65;

/// What the steel mirrors lies across all bodies of a picture alike; a strap, across every second one.
constexpr double kStrapBesideNone = 1.0;

/// How well all cutters' faces go together; bit i of `inner` says that cutter i shows its inner side.
double agreement(unsigned inner, const std::vector<double>& evidence, const std::vector<CutterOutline>& cutters,
                 const std::vector<int>& steps) {
  double sum = 0;
  const auto is_inner = [&](std::size_t i) { return (inner >> i & 1U) != 0; };
  for (std::size_t i = 0; i < evidence.size(); ++i) {
    sum += is_inner(i) ? evidence[i] : -evidence[i];
    for (std::size_t k = i + 1; k < evidence.size(); ++k) {
      // Neighbours four pitches apart are of the other hand, eight apart of the same; others say nothing.
      const int apart = std::abs(steps[k] - steps[i]);
      if (apart != 4 && apart != 8) continue;
      if ((is_inner(i) == is_inner(k)) != (apart == 8)) sum -= kAlikeInARow;
      if (apart == 4 && is_inner(i) != is_inner(k)) {
        const double more = cutters[i].face.strap - cutters[k].face.strap;
        sum += kStrapBesideNone * (is_inner(i) ? more : -more);
      }
    }
  }
  return sum;
}

}  // namespace

void decide_faces(std::vector<CutterOutline>& cutters, const std::vector<int>& steps) {
  constexpr std::size_t kMost = 12;  // no picture shows as many; beyond them the search would grow without bounds
  std::vector<double> evidence;
  for (const CutterOutline& c : cutters) evidence.push_back(inner_evidence(c.face));
  if (evidence.size() > kMost) evidence.resize(kMost);
  unsigned best = 0;
  for (unsigned tried = 1; tried < 1U << evidence.size(); ++tried) {
    if (agreement(tried, evidence, cutters, steps) > agreement(best, evidence, cutters, steps)) best = tried;
  }
  const double reached = agreement(best, evidence, cutters, steps);
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    if (i >= evidence.size()) {
      cutters[i].outer_face_up = inner_evidence(cutters[i].face) <= 0;
      continue;
    }
    cutters[i].outer_face_up = (best >> i & 1U) == 0;
    cutters[i].face_margin = std::min(1.0, (reached - agreement(best ^ 1U << i, evidence, cutters, steps)) / 2);
  }
}

}  // namespace glintline
