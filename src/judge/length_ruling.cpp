#include <algorithm>

#include "judge/remedy.h"
#include "judge/ruling.h"
#include "judge/standing.h"
#include "judge/wording.h"

namespace glintline {

namespace {

std::string by_hand(ViewKind view) {
  const std::string calliper = "measure the top plate with a calliper";
  return view == ViewKind::kProfile ? "another view: a plan picture measures the length better; or " + calliper
                                    : calliper;
}

/// Length left once the needed stock is off, which counts from the line of the undamaged edge where that is known: a
/// chip at the corner has shortened the cutter already. Independent, so the budgets simply add. Never more than there
/// is now: what is missing at the corner must come off the rest of the edge too.
Quantity left_of(const CutterMeasurement& cutter, const std::optional<Stock>& stock) {
  if (!stock) return *cutter.length_mm;
  Quantity left = cutter.whole_length_mm ? *cutter.whole_length_mm : *cutter.length_mm;
  left.value -= stock->back_mm.value;
  left.budget.insert(left.budget.end(), stock->back_mm.budget.begin(), stock->back_mm.budget.end());
  return left.value < cutter.length_mm->value ? left : *cutter.length_mm;
}

/// What is missing at the working corner, where that is more than measuring it leaves open.
std::string corner_text(const CutterMeasurement& cutter) {
  const std::optional<Quantity>& loss = cutter.corner_loss_mm;
  if (!loss || !cutter.whole_length_mm || !(loss->value > kCoverage * loss->u())) return {};
  return ", its working corner lost " + mm_text(*loss) + " (edge and side would meet at " +
         mm_text(cutter.whole_length_mm->value) + ")";
}

}  // namespace

Ruling rule_length(const CutterMeasurement& cutter, const std::optional<Stock>& stock, const Limits& limits,
                   ViewKind view) {
  Ruling ruling;
  ruling.needed = true;
  ruling.safety = true;
  if (!cutter.length_mm) {
    ruling.safety = false;
    ruling.finding = {"length", Standing::kUnknown,
                      "length not measured: not known whether the cutter is at its end, " +
                          mm_text(limits.retired_length_mm.value) + " " + source_text(limits.retired_length_mm)};
    ruling.would_decide = {"a picture with the rear end of the top plate and the edge both free", by_hand(view)};
    return ruling;
  }
  const Quantity left = left_of(cutter, stock);
  const std::string end = mm_text(limits.retired_length_mm.value) + " " + source_text(limits.retired_length_mm);
  const Standing now = against_least(*cutter.length_mm, limits.retired_length_mm.value);
  const Standing after = against_least(left, limits.retired_length_mm.value);
  // Filing never makes a cutter longer, but it adds its own uncertainty: what is proven already stays proven.
  const Standing standing = now == Standing::kBeyond ? now : after;
  ruling.finding = {"length", standing, "length " + mm_text(*cutter.length_mm) + corner_text(cutter)};
  std::string& text = ruling.finding.text;
  const std::string needing = stock ? ", and " + mm_text(stock->back_mm.value) + " must come off (" + stock->reason +
                                          "), which leaves " + mm_text(left.value)
                                    : "";
  if (now == Standing::kBeyond) {
    ruling.calls_for = Action::kRetire;
    text += ": under " + end + ": retire the cutter";
  } else if (standing == Standing::kBeyond) {
    ruling.calls_for = Action::kRetire;
    text += needing + ": under " + end + ": retire the cutter";
  } else if (standing == Standing::kUndecided) {
    text += needing + ": too close to " + end + " to call";
    ruling.would_decide = remedies(left, by_hand(view), view);
  } else {
    text += needing + ": long enough; retired at " + end;
  }
  return ruling;
}

}  // namespace glintline
