#pragma once

#include <algorithm>
#include <cmath>
#include <vector>

namespace glintline {

/// Where a share of the uncertainty comes from.
enum class Source {
  kEdge,         ///< noise and bias of the traced outlines
  kPose,         ///< pose of the card, at the given focal length
  kFocal,        ///< focal length, principal point and distortion
  kPrint,        ///< the print's true size
  kStandOff,     ///< height of the measured feature over the card
  kThickness,    ///< widths and thicknesses of the chain's parts, which decide the rim that makes the outline
  kFlatness,     ///< the paper's bow
  kDefinition,   ///< the quantity itself is blurred: dirt, burr, rounding, the choice of the stretch it is taken over
};

/// True where every value of one photograph shares the error, so that averaging over cutters does not reduce it.
[[nodiscard]] constexpr bool shared_by_photo(Source source) {
  return source == Source::kPose || source == Source::kFocal || source == Source::kPrint || source == Source::kFlatness;
}

struct BudgetLine {
  Source source;
  double u;  ///< standard uncertainty of the value due to this source alone, in the value's unit
};

/// A measured value with its uncertainty budget. Lines are independent; the standard uncertainty is their root sum of
/// squares (JCGM 100:2008, 5.1.2). Only judge and report expand it by a coverage factor.
struct Quantity {
  double value = 0;
  std::vector<BudgetLine> budget;

  [[nodiscard]] double u() const {
    double sum = 0;
    for (const BudgetLine& line : budget) sum += line.u * line.u;
    return std::sqrt(sum);
  }

  /// The line that adds most; nothing (null) where there is none.
  [[nodiscard]] const BudgetLine* largest() const {
    const auto most = std::ranges::max_element(budget, {}, &BudgetLine::u);
    return most == budget.end() ? nullptr : &*most;
  }
};

/// Coverage factor of every `u95` (JCGM 100:2008, 6.3.3).
inline constexpr double kCoverage = 2.0;

}  // namespace glintline
