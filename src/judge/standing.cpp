#include "judge/standing.h"

namespace glintline {

Standing against_most(const Quantity& value, double most) {
  const double guard = kGuardFactor * value.u();
  if (value.value + guard <= most) return Standing::kWithin;
  if (value.value - guard > most) return Standing::kBeyond;
  return Standing::kUndecided;
}

Standing against_least(const Quantity& value, double least) {
  const double guard = kGuardFactor * value.u();
  if (value.value - guard >= least) return Standing::kWithin;
  if (value.value + guard < least) return Standing::kBeyond;
  return Standing::kUndecided;
}

}  // namespace glintline
