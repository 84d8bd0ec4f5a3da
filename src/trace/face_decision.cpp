#include "trace/face_decision.h"

#include <algorithm>
#include <cmath>

namespace glintline {

namespace {

/// Evidence for the inner side, over 0, or the outer, under 0; 1 and -1 are clear. Where the scales lie was found by
/// experiment (tests/accuracy: hands right and wrong).
double inner_evidence(const FaceSigns& signs) {
  if (signs.bevel) return 1;
  // Under a rounded shoulder the bend's bright line can look like an underside.
  const double weight = signs.shoulder_mm > 0.7 ? 0.4 : 1.0;
  const double sum = signs.strap / 0.26 + weight * signs.underside / 0.35;
  return std::clamp(2 * (sum - 1.3), -1.0, 1.0);
}

}  // namespace

void decide_faces(std::vector<CutterOutline>& cutters, const std::vector<int>& steps) {
  std::vector<double> evidence;
  for (const CutterOutline& c : cutters) evidence.push_back(inner_evidence(c.face));
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    double sum = evidence[i];
    for (std::size_t k = 0; k < cutters.size(); ++k) {
      // Neighbours four pitches apart are of the other hand, eight apart of the same; others say nothing.
      const int apart = std::abs(steps[k] - steps[i]);
      if (k == i || apart % 4 != 0 || apart > 8) continue;
      sum += (apart == 4 ? -0.7 : 0.7) * evidence[k];
    }
    cutters[i].outer_face_up = sum <= 0;
    cutters[i].face_margin = std::min(1.0, std::abs(sum));
  }
}

}  // namespace glintline
