#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/quantity.h"
#include "model/verdict.h"

namespace glintline {

/// A count nobody can know exactly, for example of file strokes.
struct CountBand {
  double least = 0;
  double likely = 0;
  double most = 0;
};

/// What one stroke of the file takes off.
struct StrokeStock {
  Quantity mm;
  std::string source;  ///< "learned from 6 cutters of 2026-11-02", "assumed, wide"
};

/// What to do to one cutter.
struct CutterWork {
  int number = 0;
  Action action = Action::kUndecided;
  std::optional<Quantity> take_mm;  ///< to come off along the chain
  std::optional<CountBand> strokes;
  std::optional<Quantity> length_after_mm;
  std::optional<Quantity> drop_after_mm;  ///< gauge drop once filed, before the gauge is touched
  std::optional<Quantity> gauge_take_mm;  ///< to come off the depth gauge after filing; absent: nothing
  std::vector<std::string> notes;
};

/// Another way to treat the chain, with what it costs and saves.
struct PlanOption {
  std::string what;           ///< "skip cutter 12 and leave it short"
  std::vector<int> left_out;  ///< cutters not filed to the target
  std::optional<Quantity> target_mm;
  std::optional<Quantity> saved_mm;  ///< per cutter, against the plan
  std::optional<CountBand> sharpenings_left;
  std::vector<std::string> but;  ///< what speaks against it
};

/// How a whole chain is filed. Lengths are along the chain, in mm.
struct FilingPlan {
  std::optional<Quantity> target_mm;  ///< every cutter's length afterwards: the shortest usable one
  std::optional<int> decided_by;      ///< the cutter that sets the target
  StrokeStock stock_per_stroke;
  std::vector<CutterWork> work;                ///< in the order of the cutters' numbers
  std::vector<int> filing_order;               ///< numbers: one hand after the other, from the mark on
  std::optional<Quantity> left_less_right_mm;  ///< mean length of left-handers less right-handers, now
  std::optional<CountBand> sharpenings_left;   ///< after this one
  std::vector<PlanOption> options;
  std::vector<std::string> not_planned;  ///< cutters left out for want of a value, and why
  std::vector<std::string> notes;
};

}  // namespace glintline
