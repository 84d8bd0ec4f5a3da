#include "judge/plan_filing.h"

#include <algorithm>
#include <cmath>

#include "base/text.h"
#include "judge/gauge_setting.h"
#include "judge/standing.h"
#include "judge/stroke_stock.h"
#include "judge/wedge.h"
#include "judge/wording.h"

namespace glintline {

namespace {

/// Less than this saved for each cutter is not worth leaving one short (proposed, no source).
constexpr double kWorthSavingMm = 0.1;
/// Touching up takes 2 to 3 strokes (makers' manuals).
constexpr double kTouchUpLeast = 2;
constexpr double kTouchUpMost = 3;
constexpr std::size_t kMostSkipped = 3;

/// A cutter with a length, as filing sees it.
struct Stand {
  const JoinedCutter* cutter = nullptr;
  TracedValue length;
  TracedValue base;
  std::optional<EdgeNeed> need;  ///< nothing: the edge was not seen
  TracedValue usable;
  TracedValue tip;
};

/// True for a chip that takes in the working corner, told as broken or not.
bool reaches_corner(const Chip& chip) { return chip.at_mm <= chip.width_mm.value / 2; }

/// The most that rounding alone, the largest the picture permits, takes off along the chain.
double lost_to_rounding_mm(const CutterMeasurement& m, const Limits& limits) {
  const double most_um = m.edge_radius_p90_um ? m.edge_radius_p90_um->value
                         : m.edge_radius_um   ? m.edge_radius_um->value
                                              : m.edge_radius_limit_um.value_or(0);
  return lost_tip(most_um / 1000, wedge_angle_rad().value) * along_per_square(m, limits).value;
}

std::string name_of(const JoinedCutter& cutter) { return "cutter " + std::to_string(cutter.number); }

bool wants(const Verdict& verdict, Action action) {
  return verdict.action == action || std::find(verdict.also.begin(), verdict.also.end(), action) != verdict.also.end();
}

/// A value of this cutter's own, that shares no error with any other.
TracedValue own_value(const Quantity& q, const JoinedCutter& cutter, CutterValue what, int part) {
  TracedValue value{q.value, {}};
  const CutterSighting first = cutter.sightings.empty() ? CutterSighting{} : cutter.sightings.front();
  value.errors[{Source::kDefinition, first.photo, first.cutter, 200 + 10 * static_cast<int>(what) + part}] = q.u();
  return value;
}

Quantity mean_of(const std::vector<TracedValue>& values) {
  TracedValue sum;
  for (const TracedValue& v : values) sum.add(1.0 / static_cast<double>(values.size()), v);
  return sum.quantity();
}

class Planner {
 public:
  explicit Planner(const FilingTask& task) : task_(task) { plan_.stock_per_stroke = task.stock; }

  FilingPlan plan() {
    for (const JoinedCutter& cutter : task_.cutters) take_stand(cutter);
    set_order();
    if (const auto apart = left_less_right(task_.chain, task_.cutters)) plan_.left_less_right_mm = apart->quantity();
    if (stands_.empty()) return plan_;
    decider_ = shortest_usable(stands_);
    filing_ = worth_filing();
    target_ = decider_->usable;
    if (filing_) {
      plan_.target_mm = target_.quantity();
      plan_.decided_by = decider_->cutter->number;
      tell_of_decider();
    }
    for (const Stand& stand : stands_) plan_.work.push_back(work_on(stand));
    add_unplanned_work();
    count_sharpenings();
    if (filing_) add_options();
    return plan_;
  }

 private:
  void take_stand(const JoinedCutter& cutter) {
    if (cutter.verdict.action == Action::kRetire) {
      plan_.not_planned.push_back(name_of(cutter) +
                                  ": at its end, so it does not decide the others' length: have it "
                                  "replaced by somebody qualified, or retire the chain");
      return;
    }
    const auto length = joined_value(task_.chain, cutter, &CutterMeasurement::length_mm, CutterValue::kLength);
    const auto base = base_length(task_.chain, cutter);
    if (!length || !base) {
      plan_.not_planned.push_back(name_of(cutter) + ": its length was not measured" +
                                  (cutter.measured.missing.empty() ? "" : " (" + cutter.measured.missing[0] + ")") +
                                  "; if it is shorter than the others, all of them change");
      return;
    }
    if (!length->contradiction.empty()) {
      plan_.not_planned.push_back(name_of(cutter) + ": " + length->contradiction +
                                  "; it decides nothing until it is photographed again");
      return;
    }
    if (kCoverage * length->value.u() > task_.limits.length_spread_act_mm.value) {
      plan_.not_planned.push_back(name_of(cutter) + ": length known to " + mm_text(length->value.quantity()) +
                                  " only, too little to decide for the others: measure it with a calliper");
      return;
    }
    Stand stand{&cutter, length->value, *base, {}, *base, {}};
    const auto& width = task_.sheet.geometry.top_plate_width;
    stand.need = edge_need(cutter.measured, task_.limits, width ? std::optional(width->value_mm) : std::nullopt);
    if (stand.need) {
      stand.usable.add(-1, own_value(stand.need->back_mm, cutter, CutterValue::kNeed, 0));
      stand.tip = own_value(stand.need->lost_tip_mm, cutter, CutterValue::kNeed, 1);
    }
    // What is missing at the corner is missing behind it too: the edge cannot end before the corner that is left.
    if (stand.usable.value > stand.length.value) stand.usable = stand.length;
    stands_.push_back(std::move(stand));
  }

  static const Stand* shortest_usable(const std::vector<Stand>& stands, const std::vector<int>& without = {}) {
    const Stand* shortest = nullptr;
    for (const Stand& s : stands) {
      if (std::find(without.begin(), without.end(), s.cutter->number) != without.end()) continue;
      if (!shortest || s.usable.value < shortest->usable.value) shortest = &s;
    }
    return shortest;
  }

  [[nodiscard]] bool worth_filing() const {
    const bool needed = std::any_of(stands_.begin(), stands_.end(), [](const Stand& s) {
      return wants(s.cutter->verdict, Action::kFile) || wants(s.cutter->verdict, Action::kTouchUp);
    });
    const auto spread = length_spread(task_.chain, task_.cutters);
    return needed || (spread && spread->value > task_.limits.length_spread_act_mm.value);
  }

  void set_order() {
    std::optional<Hand> first;
    for (const JoinedCutter& c : task_.cutters) {
      if (!first) first = c.hand;
    }
    for (const bool other : {false, true}) {
      for (const JoinedCutter& c : task_.cutters) {
        if ((c.hand && c.hand != first) == other) plan_.filing_order.push_back(c.number);
      }
    }
  }

  void tell_of_decider() {
    const JoinedCutter& cutter = *decider_->cutter;
    std::string why =
        name_of(cutter) + " (" + cutter.place + ") decides: " + mm_text(decider_->length.quantity()) + " long";
    if (decider_->need && decider_->need->back_mm.value > 0) {
      why += ", of which " + decider_->need->reason + " takes " + mm_text(decider_->need->back_mm) +
             " behind the edge's line";
    }
    plan_.notes.push_back(why + "; check it with a calliper before filing, for all others follow it");
    if (decider_->need && !decider_->need->proven) {
      plan_.notes.push_back("its chip is too close to the limit to call: photograph it again before filing the chain");
    }
    std::string rivals;
    for (const Stand& s : stands_) {
      if (&s == decider_) continue;
      const TracedValue apart = difference(s.usable, decider_->usable);
      if (apart.value < kCoverage * apart.u())
        rivals += (rivals.empty() ? "" : ", ") + std::to_string(s.cutter->number);
    }
    if (!rivals.empty()) plan_.notes.push_back("as short within the uncertainty: " + rivals);
    std::string unseen;
    for (const Stand& s : stands_) {
      if (!s.need) unseen += (unseen.empty() ? "" : ", ") + std::to_string(s.cutter->number);
    }
    if (!unseen.empty()) {
      plan_.notes.push_back("no edge seen on " + unseen +
                            ": damage there may put the target lower; look at these edges before filing the chain");
    }
    tell_of_broken_corners();
  }

  /// Where a corner is missing and no chip tells of it, how deep the break goes is open.
  void tell_of_broken_corners() {
    std::string broken;
    for (const Stand& s : stands_) {
      const CutterMeasurement& m = s.cutter->measured;
      if (std::any_of(m.chips.begin(), m.chips.end(), reaches_corner)) continue;
      Quantity missing = difference(s.base, s.length).quantity();
      missing.value -= lost_to_rounding_mm(m, task_.limits);
      if (against_most(missing, task_.limits.chip_depth_mm.value) != Standing::kBeyond) continue;
      broken += (broken.empty() ? "" : ", ") + std::to_string(s.cutter->number);
    }
    if (!broken.empty()) {
      plan_.notes.push_back("corner broken off on " + broken +
                            ": how far back the break goes is not measured, so the target may have to go lower; file "
                            "one of these first, until its corner is whole");
    }
  }

  CutterWork work_on(const Stand& stand) {
    CutterWork work;
    work.number = stand.cutter->number;
    work.action = stand.cutter->verdict.action;
    if (filing_) {
      TracedValue take = difference(stand.length, target_);
      TracedValue bevel = difference(stand.base, target_);
      bevel.add(1, stand.tip);
      const bool sharp = stand.need && stand.need->back_mm.value == 0;
      const bool unseen = !stand.need;
      const bool nothing = take.value < 0.5 * task_.stock.mm.value && (sharp || unseen);
      if (nothing) take.value = 0;
      work.take_mm = take.quantity();
      work.strokes = nothing ? CountBand{} : strokes_for(bevel.quantity(), task_.stock);
      work.length_after_mm = nothing ? stand.length.quantity() : target_.quantity();
      set_action(work, stand, nothing);
    } else {
      work.length_after_mm = stand.length.quantity();
    }
    set_gauge(work, stand);
    add_notes(work, stand);
    return work;
  }

  void set_action(CutterWork& work, const Stand& stand, bool nothing) const {
    if (work.action == Action::kGaugeTooLow) return;
    if (nothing) {
      if (work.action == Action::kFile || work.action == Action::kTouchUp) work.action = Action::kLeave;
      return;
    }
    const bool safety_open =
        work.action == Action::kUndecided && stand.cutter->measured.gauge_drop_mm &&
        against_most(*stand.cutter->measured.gauge_drop_mm,
                     gauge_setting(stand.cutter->measured.length_mm, task_.limits).most_mm) == Standing::kUndecided;
    if (safety_open) return;  // filing lowers the top, so it may help; but it is not called right by the way
    work.action = work.strokes->likely <= kTouchUpMost ? Action::kTouchUp : Action::kFile;
  }

  void set_gauge(CutterWork& work, const Stand& stand) const {
    const std::optional<Quantity>& drop = stand.cutter->measured.gauge_drop_mm;
    if (!drop) return;
    const Quantity slope = top_slope(stand.cutter->measured);
    const double take = work.take_mm ? work.take_mm->value : 0;
    const double flat = stand.need ? std::min(take, stand.need->flat_behind_mm) : 0;
    const double fall = std::max(0.0, take - flat);
    Quantity after = *drop;
    after.value -= fall * std::tan(slope.value);
    if (fall > 0) {
      after.budget.push_back({Source::kEdge, std::tan(slope.value) * work.take_mm->u()});
      after.budget.push_back({Source::kDefinition, fall * slope.u() / std::pow(std::cos(slope.value), 2)});
    }
    work.drop_after_mm = after;
    const GaugeSetting setting = gauge_setting(work.length_after_mm, task_.limits);
    judge_drop_after(work, after, setting);
  }

  void judge_drop_after(CutterWork& work, const Quantity& after, const GaugeSetting& setting) const {
    const Standing upper = against_most(after, setting.most_mm);
    if (upper != Standing::kWithin) {
      work.notes.emplace_back(upper == Standing::kBeyond
                                  ? "after filing the gauge is still too low: out of use"
                                  : "after filing the gauge may still be too low: check it before cutting");
      return;
    }
    if (work.action == Action::kGaugeTooLow) {
      work.action = Action::kFile;
      work.notes.emplace_back("out of use until it is filed: that brings the gauge back under the most allowed");
    }
    const Standing lower = against_least(after, setting.value_mm - task_.limits.gauge_tolerance_mm.value);
    if (lower == Standing::kWithin) return;
    if (lower == Standing::kUndecided) {
      work.notes.emplace_back("gauge right or a little high after filing: lay the gauge tool on it");
      return;
    }
    const double safe = setting.most_mm - kGuardFactor * after.u() - after.value;
    const double wanted = setting.value_mm - after.value;
    const double off = std::min(wanted, safe);
    if (!(off > 0)) return;
    Quantity take{off, after.budget};
    if (setting.u_mm > 0) take.budget.push_back({Source::kDefinition, setting.u_mm});
    work.gauge_take_mm = take;
    if (work.action == Action::kLeave) work.action = Action::kLowerGauge;
    if (off < wanted) work.notes.emplace_back("the drop is not known well enough to take all off at once");
  }

  void add_notes(CutterWork& work, const Stand& stand) const {
    const Verdict& verdict = stand.cutter->verdict;
    if (work.action == Action::kUndecided && !verdict.why.empty()) work.notes.push_back(verdict.why.front());
    if (filing_ && stand.need && stand.need->reason == "a chip") {
      work.notes.emplace_back("chipped: if the file skips, break the hard nick with a stone first");
    }
    for (const std::string& contradiction : stand.cutter->contradictions) {
      if (work.notes.empty() || work.notes.back() != contradiction) work.notes.push_back(contradiction);
    }
  }

  /// Cutters the plan cannot file still stand in the list, so that nobody passes them over.
  void add_unplanned_work() {
    for (const JoinedCutter& cutter : task_.cutters) {
      const bool planned = std::any_of(plan_.work.begin(), plan_.work.end(),
                                       [&](const CutterWork& w) { return w.number == cutter.number; });
      if (planned) continue;
      CutterWork work;
      work.number = cutter.number;
      work.action = cutter.verdict.action == Action::kLeave ? Action::kUndecided : cutter.verdict.action;
      if (!cutter.verdict.why.empty()) work.notes.push_back(cutter.verdict.why.front());
      plan_.work.push_back(std::move(work));
    }
    std::sort(plan_.work.begin(), plan_.work.end(),
              [](const CutterWork& a, const CutterWork& b) { return a.number < b.number; });
  }

  [[nodiscard]] CountBand sharpenings(const TracedValue& length) const {
    const double s = task_.stock.mm.value;
    const double spread = std::exp(kCoverage * task_.stock.mm.u() / s);
    const double left = length.value - task_.limits.retired_length_mm.value;
    const double u95 = kCoverage * length.u();
    CountBand band;
    band.likely = std::max(0.0, left / (0.5 * (kTouchUpLeast + kTouchUpMost) * s));
    band.least = std::max(0.0, (left - u95) / (kTouchUpMost * s * spread));
    band.most = std::max(0.0, (left + u95) / (kTouchUpLeast * s / spread));
    return band;
  }

  void count_sharpenings() {
    const Stand* shortest = shortest_usable(stands_);
    plan_.sharpenings_left = sharpenings(filing_ ? target_ : shortest->usable);
    if (!filing_) {
      plan_.notes.emplace_back("no cutter needs the file, and the lengths are even enough: nothing to file");
      return;
    }
    double largest = 0;
    for (const Stand& s : stands_) largest = std::max(largest, s.need ? s.need->back_mm.value : 0);
    const double left = target_.value - task_.limits.retired_length_mm.value;
    if (largest > kTouchUpMost * task_.stock.mm.value && left > 0) {
      plan_.notes.push_back("damage like this one takes " + mm_text(largest) + " each time: the chain bears it " +
                            counted(static_cast<int>(left / largest), "time") + " more, light touching up apart");
    }
  }

  void add_options() {
    std::vector<int> without;
    while (without.size() < kMostSkipped && without.size() + 1 < stands_.size()) {
      without.push_back(shortest_usable(stands_, without)->cutter->number);
      const Stand* next = shortest_usable(stands_, without);
      const TracedValue saved = difference(next->usable, target_);
      if (!(saved.value > kWorthSavingMm) || !(saved.value > kCoverage * saved.u())) continue;
      add_skipping(without, *next, saved);
      break;
    }
    add_touching_up_only();
  }

  void add_skipping(const std::vector<int>& without, const Stand& next, const TracedValue& saved) {
    PlanOption option;
    option.left_out = without;
    std::string names;
    for (const int n : without) names += (names.empty() ? "" : ", ") + std::to_string(n);
    option.what = std::string(without.size() > 1 ? "have cutters " : "have cutter ") + names +
                  " replaced by somebody qualified, or leave " + (without.size() > 1 ? "them" : "it") +
                  " short, and file the others to " + mm_text(next.usable.value);
    option.target_mm = next.usable.quantity();
    option.saved_mm = saved.quantity();
    option.sharpenings_left = sharpenings(next.usable);
    option.but.emplace_back(
        "a cutter left short cuts nothing, and the chain runs rougher; its gauge must not stand "
        "lower than the others'");
    if (next.usable.value < task_.limits.retired_length_mm.value) option.but.emplace_back("still under the limit");
    plan_.options.push_back(std::move(option));
  }

  /// Every edge sharp, lengths left as they are.
  void add_touching_up_only() {
    std::vector<TracedValue> saved;
    double longest = -1e9;
    double shortest = 1e9;
    for (const Stand& s : stands_) {
      if (!s.need) return;  // what an unseen edge needs is not known
      TracedValue after = s.usable;
      if (s.need->back_mm.value == 0) after = s.length;
      saved.push_back(difference(after, target_));
      longest = std::max(longest, after.value);
      shortest = std::min(shortest, after.value);
    }
    const Quantity mean = mean_of(saved);
    if (!(mean.value > kWorthSavingMm) || !(mean.value > kCoverage * mean.u())) return;
    PlanOption option;
    option.what = "file every cutter only until its own edge is sharp";
    option.saved_mm = mean;
    option.but.push_back(
        "the lengths stay uneven by " + mm_text(longest - shortest) + ", " +
        (longest - shortest > task_.limits.length_spread_act_mm.value ? "over " : "of which ") +
        mm_text(task_.limits.length_spread_act_mm.value) + " " + source_text(task_.limits.length_spread_act_mm) +
        (longest - shortest > task_.limits.length_spread_act_mm.value ? ": rough, skewed cut" : " are borne"));
    plan_.options.push_back(std::move(option));
  }

  const FilingTask& task_;
  FilingPlan plan_;
  std::vector<Stand> stands_;
  const Stand* decider_ = nullptr;
  TracedValue target_;
  bool filing_ = false;
};

std::vector<TracedValue> lengths_of(const ChainPhotos& chain, const std::vector<JoinedCutter>& cutters,
                                    std::optional<Hand> hand) {
  std::vector<TracedValue> lengths;
  for (const JoinedCutter& c : cutters) {
    if (hand && c.hand != hand) continue;
    const auto length = joined_value(chain, c, &CutterMeasurement::length_mm, CutterValue::kLength);
    // One that contradicts itself would make the whole chain's balance worthless.
    if (length && length->contradiction.empty()) lengths.push_back(length->value);
  }
  return lengths;
}

TracedValue plain_mean(const std::vector<TracedValue>& values) {
  TracedValue mean;
  for (const TracedValue& v : values) mean.add(1.0 / static_cast<double>(values.size()), v);
  return mean;
}

}  // namespace

FilingPlan plan_filing(const FilingTask& task) { return Planner(task).plan(); }

std::optional<TracedValue> left_less_right(const ChainPhotos& chain, const std::vector<JoinedCutter>& cutters) {
  const auto left = lengths_of(chain, cutters, Hand::kLeft);
  const auto right = lengths_of(chain, cutters, Hand::kRight);
  if (left.empty() || right.empty()) return std::nullopt;
  return difference(plain_mean(left), plain_mean(right));
}

std::optional<TracedValue> length_spread(const ChainPhotos& chain, const std::vector<JoinedCutter>& cutters) {
  const auto all = lengths_of(chain, cutters, std::nullopt);
  if (all.size() < 2) return std::nullopt;
  const auto less = [](const TracedValue& a, const TracedValue& b) { return a.value < b.value; };
  return difference(*std::max_element(all.begin(), all.end(), less), *std::min_element(all.begin(), all.end(), less));
}

}  // namespace glintline
