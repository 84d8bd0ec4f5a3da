#include "judge/compare_chains.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

#include "base/text.h"
#include "judge/plan_filing.h"
#include "judge/sighted_values.h"
#include "judge/standing.h"
#include "judge/stroke_stock.h"
#include "judge/wedge.h"
#include "judge/wording.h"

namespace glintline {

namespace {

/// A chip stands at the same place before and after up to here, or up to half its width (proposed, no source).
constexpr double kSamePlaceMm = 0.4;

bool same_place(const Chip& a, const Chip& b) {
  return std::abs(a.at_mm - b.at_mm) <= std::max({kSamePlaceMm, a.width_mm.value / 2, b.width_mm.value / 2});
}

const JoinedCutter* with_number(const ChainInspection& chain, int number) {
  const auto found = std::find_if(chain.cutters.begin(), chain.cutters.end(),
                                  [&](const JoinedCutter& c) { return c.number == number; });
  return found == chain.cutters.end() ? nullptr : &*found;
}

ChainPhotos day_before(const ChainPair& pair) { return {pair.before.photos, 0, 0}; }
ChainPhotos day_after(const ChainPair& pair) { return {pair.after.photos, pair.same_print ? 0 : 1, 1}; }

/// How values of a unit read, with their u95 and bare.
struct Wording {
  std::string (*with_u95)(const Quantity&);
  std::string (*bare)(double);
};

const Wording kMillimetres{[](const Quantity& q) { return mm_text(q); }, [](double v) { return mm_text(v); }};
const Wording kMicrometres{[](const Quantity& q) { return um_text(q); }, [](double v) { return um_text(v); }};
const Wording kDegrees{[](const Quantity& q) { return degrees_text(q); },
                       [](double v) { return fixed(v * 180 / std::numbers::pi, 1) + " degrees"; }};

Quantity size_of(Quantity q) {
  q.value = std::abs(q.value);
  return q;
}

/// How a difference reads: "filed off" for less, "more" for more.
struct Reading {
  const char* quantity;
  const char* less;
  const char* more;
  Wording wording;
};

Change change_of(const Reading& reading, const std::optional<TracedValue>& before,
                 const std::optional<TracedValue>& after) {
  Change change;
  change.quantity = reading.quantity;
  if (before) change.before = before->quantity();
  if (after) change.after = after->quantity();
  if (!before || !after) {
    change.text = std::string(reading.quantity) + " not known " +
                  (before  ? "after"
                   : after ? "before"
                           : "on either day");
    return change;
  }
  const TracedValue apart = difference(*after, *before);
  change.difference = apart.quantity();
  change.real = std::abs(apart.value) > kCoverage * apart.u();
  change.text = change.real ? reading.wording.with_u95(size_of(*change.difference)) + " " +
                                  (apart.value < 0 ? reading.less : reading.more)
                            : std::string(reading.quantity) + ": no difference beyond " +
                                  reading.wording.bare(kCoverage * apart.u());
  return change;
}

std::optional<TracedValue> value_of(const ChainPhotos& day, const JoinedCutter& cutter, QuantityOf quantity,
                                    CutterValue what) {
  const auto joined = joined_value(day, cutter, quantity, what);
  // What contradicts itself on one day says nothing about the other.
  return joined && joined->contradiction.empty() ? std::optional(joined->value) : std::nullopt;
}

/// One cutter on both days.
struct CutterPair {
  const JoinedCutter& before;
  const JoinedCutter& after;
};

class Comparer {
 public:
  explicit Comparer(const ChainPair& pair)
      : pair_(pair), before_(day_before(pair)), after_(day_after(pair)), limits_(pair.after.limits) {}

  Comparison compare() {
    for (const JoinedCutter& cutter : pair_.before.cutters) {
      const JoinedCutter* after = with_number(pair_.after, cutter.number);
      if (after == nullptr) {
        result_.not_compared.push_back(named(cutter.number) + ": not seen after");
        continue;
      }
      if (cutter.hand && after->hand && *cutter.hand != *after->hand) {
        result_.not_compared.push_back(named(cutter.number) +
                                       ": of one hand before and of the other after: not the same cutter");
        continue;
      }
      compare_cutter({cutter, *after});
    }
    for (const JoinedCutter& cutter : pair_.after.cutters) {
      if (with_number(pair_.before, cutter.number) == nullptr) {
        result_.not_compared.push_back(named(cutter.number) + ": not seen before");
      }
    }
    compare_chain();
    judge_filing();
    const std::vector<StrokeCount> counts = stroke_counts(pair_);
    if (!counts.empty()) result_.stock_per_stroke = learned_stock(counts);
    result_.not_compared.emplace_back("heat: a blue, overheated edge is not measured; look for it");
    return std::move(result_);
  }

 private:
  static std::string named(int number) { return "cutter " + std::to_string(number); }

  void compare_cutter(const CutterPair& pair) {
    ComparedCutter cutter;
    cutter.number = pair.before.number;
    cutter.hand = pair.after.hand ? pair.after.hand : pair.before.hand;
    const auto add = [&](const Reading& reading, QuantityOf quantity, CutterValue what) {
      const auto before = value_of(before_, pair.before, quantity, what);
      const auto after = value_of(after_, pair.after, quantity, what);
      if (before || after) cutter.changes.push_back(change_of(reading, before, after));
    };
    add({"length", "filed off", "longer than before, which cannot be: another cutter, or the days are swapped",
         kMillimetres},
        &CutterMeasurement::length_mm, CutterValue::kLength);
    add({"gauge drop", "less drop", "more drop: the gauge was lowered", kMillimetres},
        &CutterMeasurement::gauge_drop_mm, CutterValue::kDrop);
    add({"edge radius", "sharper", "blunter", kMicrometres}, &CutterMeasurement::edge_radius_um, CutterValue::kRadius);
    bound_rounding(cutter, pair);
    add({"edge angle", "less edge angle", "more edge angle", kDegrees}, &CutterMeasurement::edge_angle_rad,
        CutterValue::kEdgeAngle);
    for (const JoinedCutter* day : {&pair.before, &pair.after}) {
      for (const std::string& contradiction : day->contradictions) {
        result_.not_compared.push_back(named(cutter.number) + ", " + (day == &pair.before ? "before" : "after") + ": " +
                                       contradiction);
      }
    }
    cutter.searched_after = pair.after.measured.chips_searched || !pair.after.measured.chips.empty();
    compare_chips(cutter, pair);
    compare_rounding(cutter, pair.after);
    if (cutter.edge != EdgeAfter::kDamaged && is_clean(pair.after.measured)) cutter.edge = EdgeAfter::kClean;
    for (const Change& change : cutter.changes) {
      if (!change.real || change.quantity != "length" || change.difference->value < 0) continue;
      cutter.findings.push_back(change.text);
      ++grown_;
    }
    result_.cutters.push_back(std::move(cutter));
  }

  /// A sharp edge shows no rounding to measure, only that none over a limit is there; that proves it sharper than a
  /// rounding that surely was over the limit.
  static void bound_rounding(ComparedCutter& cutter, const CutterPair& pair) {
    const auto most_of = [](const CutterMeasurement& m) {
      return m.edge_radius_um ? std::optional<double>() : m.edge_radius_limit_um;
    };
    const std::optional<double> before = most_of(pair.before.measured), after = most_of(pair.after.measured);
    if (!before && !after) return;
    auto change = std::find_if(cutter.changes.begin(), cutter.changes.end(),
                               [](const Change& c) { return c.quantity == "edge radius"; });
    if (change == cutter.changes.end()) {
      change = cutter.changes.insert(change, Change{});
      change->quantity = "edge radius";
      change->text = "no rounding to compare was seen on either day";
    }
    change->before_most = before;
    change->after_most = after;
    if (change->before && after) {
      change->real = against_most(*change->before, *after) == Standing::kBeyond;
      change->text = "no rounding seen over " + um_text(*after) + " after" +
                     (change->real ? ": sharper" : ": sharper or not is not told apart");
    }
    if (before && change->after) {
      change->real = against_most(*change->after, *before) == Standing::kBeyond;
      change->text = "no rounding seen over " + um_text(*before) + " before" +
                     (change->real ? ": blunter" : ": blunter or not is not told apart");
    }
  }

  [[nodiscard]] bool matters(const Chip& chip) const {
    return against_most(chip.depth_mm, limits_.chip_depth_mm.value) != Standing::kWithin;
  }

  void compare_chips(ComparedCutter& cutter, const CutterPair& pair) const {
    const CutterMeasurement& before = pair.before.measured;
    const CutterMeasurement& after = pair.after.measured;
    if (!cutter.searched_after) {
      if (!before.chips.empty())
        cutter.findings.emplace_back("chips: the edge was not seen after, gone or left is open");
      return;
    }
    for (const Chip& chip : before.chips) {
      const auto left = std::find_if(after.chips.begin(), after.chips.end(),
                                     [&](const Chip& other) { return same_place(chip, other); });
      const std::string where = place_text(chip);
      const bool gone = left == after.chips.end();
      cutter.chips.push_back({gone ? chip.at_mm : left->at_mm, chip.depth_mm,
                              gone ? std::optional<Quantity>() : std::optional<Quantity>(left->depth_mm)});
      if (gone) {
        cutter.findings.push_back(where + ", " + mm_text(chip.depth_mm) + " deep, is gone");
      } else {
        cutter.findings.push_back(where + " is still there, " + mm_text(left->depth_mm) + " deep" +
                                  (matters(*left) ? "" : ", no deeper than is left alone"));
        if (matters(*left)) cutter.edge = EdgeAfter::kDamaged;
      }
    }
    for (const Chip& chip : after.chips) {
      const bool known = std::any_of(before.chips.begin(), before.chips.end(),
                                     [&](const Chip& other) { return same_place(chip, other); });
      if (known || !matters(chip)) continue;
      cutter.chips.push_back({chip.at_mm, std::nullopt, chip.depth_mm});
      cutter.findings.push_back(place_text(chip) + ", " + mm_text(chip.depth_mm) + " deep, " +
                                (before.chips_searched ? "is new, or was not seen before" : "stands on the edge"));
      cutter.edge = EdgeAfter::kDamaged;
    }
  }

  void compare_rounding(ComparedCutter& cutter, const JoinedCutter& after) const {
    const CutterMeasurement& m = after.measured;
    const std::optional<Quantity>& r = m.edge_radius_p90_um ? m.edge_radius_p90_um : m.edge_radius_um;
    if (!r) return;
    if (against_most(*r, limits_.dull_radius_um.value) == Standing::kBeyond) {
      cutter.findings.push_back("rounding left behind the edge: " + um_text(*r) + ", over " +
                                um_text(limits_.dull_radius_um.value) + " " + source_text(limits_.dull_radius_um));
      cutter.edge = EdgeAfter::kDamaged;
    }
  }

  /// Searched for chips, and its rounding (or the most it can be) proven not to be dull.
  [[nodiscard]] bool is_clean(const CutterMeasurement& after) const {
    if (!after.chips_searched) return false;
    const double dull_um = limits_.dull_radius_um.value;
    if (!after.edge_radius_um) return after.edge_radius_limit_um && *after.edge_radius_limit_um <= dull_um;
    const Quantity& r = after.edge_radius_p90_um ? *after.edge_radius_p90_um : *after.edge_radius_um;
    return against_most(r, dull_um) == Standing::kWithin;
  }

  void compare_chain() {
    const auto add = [&](const Reading& reading, const std::optional<TracedValue>& before,
                         const std::optional<TracedValue>& after) {
      if (before || after) result_.chain.push_back(change_of(reading, before, after));
    };
    add({"evenness (longest less shortest)", "more even", "less even", kMillimetres},
        length_spread(before_, pair_.before.cutters), length_spread(after_, pair_.after.cutters));
    add({"left less right, length", "to the right-handers", "to the left-handers", kMillimetres},
        left_less_right(before_, pair_.before.cutters), left_less_right(after_, pair_.after.cutters));
    for (const Hand hand : {Hand::kLeft, Hand::kRight}) {
      const bool left = hand == Hand::kLeft;
      add({left ? "mean length, left-handers" : "mean length, right-handers", "filed off on the mean",
           "longer on the mean, which cannot be", kMillimetres},
          mean_length(before_, pair_.before, hand), mean_length(after_, pair_.after, hand));
    }
  }

  /// Over the cutters that both days saw, so that no other one's length enters.
  [[nodiscard]] std::optional<TracedValue> mean_length(const ChainPhotos& day, const ChainInspection& chain,
                                                       Hand hand) const {
    TracedValue sum;
    int count = 0;
    for (const JoinedCutter& cutter : chain.cutters) {
      const bool both =
          with_number(pair_.before, cutter.number) != nullptr && with_number(pair_.after, cutter.number) != nullptr;
      if (!both || cutter.hand != hand) continue;
      const auto length = value_of(day, cutter, &CutterMeasurement::length_mm, CutterValue::kLength);
      if (!length) continue;
      sum.add(1, *length);
      ++count;
    }
    if (count == 0) return std::nullopt;
    TracedValue mean;
    mean.add(1.0 / count, sum);
    return mean;
  }

  // --- the filing itself -----------------------------------------------------------------------------------------

  void judge_filing() {
    std::vector<std::string>& say = result_.verdict;
    if (result_.cutters.empty()) {
      say.emplace_back("no cutter was seen on both days: nothing to compare");
      return;
    }
    if (2 * grown_ > static_cast<int>(result_.cutters.size())) {
      say.emplace_back("most cutters got longer, which cannot be: before and after are swapped, or two chains");
      return;
    }
    if (grown_ > 0) {
      say.push_back(counted(grown_, "cutter") + " got longer, which cannot be: look at the numbers");
    }
    tell_damage(say);
    tell_angles(say);
    tell_sides(say);
    tell_gauges(say);
    if (say.empty()) say.emplace_back("nothing wrong with the filing, as far as both days show it");
  }

  void tell_damage(std::vector<std::string>& say) const {
    std::string left;
    int open = 0, bounded = 0;
    double bound_um = 0;
    for (const ComparedCutter& c : result_.cutters) {
      if (c.edge == EdgeAfter::kDamaged) left += (left.empty() ? "" : ", ") + std::to_string(c.number);
      if (c.edge != EdgeAfter::kNotKnown) continue;
      const CutterMeasurement& after = with_number(pair_.after, c.number)->measured;
      if (after.chips_searched && !after.edge_radius_um && after.edge_radius_limit_um) {
        ++bounded;
        bound_um = std::max(bound_um, *after.edge_radius_limit_um);
      } else {
        ++open;
      }
    }
    if (!left.empty()) say.push_back("damage left behind the edge of cutter " + left + ": file these again");
    if (left.empty() && open == 0 && bounded == 0) say.emplace_back("the damage is gone from every edge that was seen on both days");
    if (bounded > 0) {
      say.push_back(counted(bounded, "edge") + " without a chip that matters, and no rounding over " +
                    um_text(bound_um) + " seen; to prove " + (bounded == 1 ? "it" : "them") + " under " +
                    um_text(limits_.dull_radius_um.value) + " " + source_text(limits_.dull_radius_um) +
                    " come closer with the camera");
    }
    if (open > 0) say.push_back(counted(open, "edge") + " not seen well enough after filing: not known to be clean");
  }

  void tell_angles(std::vector<std::string>& say) const {
    if (!limits_.filing_angle_rad) return;
    for (const Hand hand : {Hand::kLeft, Hand::kRight}) {
      TracedValue sum;
      int count = 0;
      for (const JoinedCutter& cutter : pair_.after.cutters) {
        if (cutter.hand != hand) continue;
        const auto angle = value_of(after_, cutter, &CutterMeasurement::edge_angle_rad, CutterValue::kEdgeAngle);
        if (!angle) continue;
        sum.add(1, *angle);
        ++count;
      }
      if (count == 0) continue;
      TracedValue off;
      off.add(1.0 / count, sum);
      off.value -= limits_.filing_angle_rad->value;
      // A filing guide is set and held to about a degree (common practice, no source).
      constexpr double kHeldRad = std::numbers::pi / 180;
      if (against_most(size_of(off.quantity()), kHeldRad) != Standing::kBeyond) continue;
      say.push_back(std::string(hand == Hand::kLeft ? "left" : "right") + "-handers are filed " +
                    degrees_text(size_of(off.quantity())) + (off.value > 0 ? " over " : " under ") +
                    degrees_text(limits_.filing_angle_rad->value) + " " + source_text(*limits_.filing_angle_rad) +
                    ": the angle drifted");
    }
  }

  void tell_sides(std::vector<std::string>& say) const {
    const auto apart = left_less_right(after_, pair_.after.cutters);
    if (apart && against_most(size_of(apart->quantity()), limits_.length_spread_warn_mm.value) == Standing::kBeyond) {
      say.push_back(std::string(apart->value > 0 ? "right" : "left") + "-handers are shorter by " +
                    mm_text(size_of(apart->quantity())) + ": the saw pulls to one side");
    }
    const auto spread = length_spread(after_, pair_.after.cutters);
    if (spread && against_most(spread->quantity(), limits_.length_spread_act_mm.value) == Standing::kBeyond) {
      say.push_back("lengths still differ by " + mm_text(spread->quantity()) + ", over " +
                    mm_text(limits_.length_spread_act_mm.value) + " " + source_text(limits_.length_spread_act_mm));
    }
  }

  void tell_gauges(std::vector<std::string>& say) const {
    std::string low, high;
    for (const ComparedCutter& c : result_.cutters) {
      const Verdict& verdict = with_number(pair_.after, c.number)->verdict;
      const auto wants = [&](Action action) {
        return verdict.action == action ||
               std::find(verdict.also.begin(), verdict.also.end(), action) != verdict.also.end();
      };
      if (wants(Action::kGaugeTooLow)) low += (low.empty() ? "" : ", ") + std::to_string(c.number);
      if (wants(Action::kLowerGauge)) high += (high.empty() ? "" : ", ") + std::to_string(c.number);
    }
    if (!low.empty()) {
      say.insert(say.begin(), "gauge too low on cutter " + low + ": too much drop invites kickback; out of use");
    }
    if (!high.empty()) say.push_back("gauge still to be lowered on cutter " + high);
  }

  const ChainPair& pair_;
  ChainPhotos before_;
  ChainPhotos after_;
  const Limits& limits_;
  Comparison result_;
  int grown_ = 0;
};

}  // namespace

std::vector<StrokeCount> stroke_counts(const ChainPair& pair) {
  std::vector<StrokeCount> counts;
  for (const auto& [number, strokes] : pair.strokes) {
    const JoinedCutter* before = with_number(pair.before, number);
    const JoinedCutter* after = with_number(pair.after, number);
    if (before == nullptr || after == nullptr || !(strokes > 0)) continue;
    const bool same_hand = !before->hand || !after->hand || *before->hand == *after->hand;
    const bool known = value_of(day_before(pair), *before, &CutterMeasurement::length_mm, CutterValue::kLength) &&
                       value_of(day_after(pair), *after, &CutterMeasurement::length_mm, CutterValue::kLength);
    if (!same_hand || !known) continue;
    const auto base_before = base_length(day_before(pair), *before);
    const auto base_after = base_length(day_after(pair), *after);
    if (!base_before || !base_after) continue;
    TracedValue bevel = difference(*base_before, *base_after);
    const auto need = edge_need(before->measured, pair.before.limits);
    double u_tip = 0;
    if (need) {
      bevel.value += need->lost_tip_mm.value;
      u_tip = need->lost_tip_mm.u();
    }
    counts.push_back({pair.before.sheet.name, number, strokes, bevel.value, std::hypot(bevel.u(), u_tip)});
  }
  return counts;
}

Comparison compare_chains(const ChainPair& pair) { return Comparer(pair).compare(); }

}  // namespace glintline
