#pragma once

#include <string>
#include <vector>

namespace glintline {

/// What to do with a cutter, worst (most urgent for safety) first.
enum class Action {
  kGaugeTooLow,   ///< too much drop: kickback; out of use until the chain's maker's limits are met again
  kRetire,        ///< the cutter is at its end, or would be once it is filed
  kUndecided,     ///< a value stands inside its limit's guard band, or a needed value is missing
  kFile,          ///< file back until damage and rounding are gone
  kLowerGauge,    ///< too little drop: lower the depth gauge
  kTouchUp,       ///< a few strokes
  kLeave,         ///< nothing to do
};

/// How a measured value stands against its limits, with the guard band of ISO 14253-1.
enum class Standing {
  kWithin,     ///< conformity proven
  kBeyond,     ///< non-conformity proven
  kUndecided,  ///< inside the guard band
  kUnknown,    ///< not measured
};

/// One value held against its limits: kWithin calls for nothing, kBeyond calls for something (`text` says what).
struct Finding {
  std::string quantity;  ///< "gauge drop", as a person reads it
  Standing standing = Standing::kUnknown;
  std::string text;      ///< "gauge drop 0.50 +- 0.03 mm: 0.15 under the setting 0.65 (common practice)"
};

/// The decision for one cutter.
struct Verdict {
  Action action = Action::kUndecided;
  std::vector<Action> also;             ///< further things to do, e.g. lower the gauge after filing
  std::vector<std::string> why;         ///< most important first
  std::vector<std::string> would_decide;  ///< for undecided: closer, sharper, other light, less tilt, another view
  std::vector<Finding> findings;
};

}  // namespace glintline
