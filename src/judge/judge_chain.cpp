#include "judge/judge_chain.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "base/text.h"
#include "judge/gauge_setting.h"
#include "judge/plan_filing.h"
#include "judge/standing.h"
#include "judge/unseen_cutters.h"
#include "judge/wording.h"

namespace glintline {

namespace {

constexpr std::size_t kMostAsked = 6;

struct KnownFault {
  const char* what;
  bool ends_chain;
  const char* why;
};

constexpr std::array<KnownFault, 6> kFaults{{
    {"crack", true, "a cracked link ends the chain, whatever the photographs say"},
    {"loose rivet", true, "a loose rivet ends the chain, whatever the photographs say"},
    {"broken twice", true, "a chain that broke twice is scrap, whatever the photographs say"},
    {"broken", false, "a broken chain is out of use until somebody qualified has mended it"},
    {"bent link", false, "a bent link puts the chain out of use until somebody qualified has looked at it"},
    {"missing cutter", false, "a missing cutter puts the chain out of use until somebody qualified has mended it"},
}};

const KnownFault* known(const std::string& what) {
  for (const KnownFault& fault : kFaults) {
    if (what == fault.what) return &fault;
  }
  return nullptr;
}

std::string numbers_of(const std::vector<const JoinedCutter*>& cutters) {
  std::string text = cutters.size() == 1 ? "cutter " : "cutters ";
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    text += (i == 0 ? "" : i + 1 == cutters.size() ? " and " : ", ") + std::to_string(cutters[i]->number);
  }
  if (cutters.size() == 1) text += " (" + cutters[0]->place + ")";
  return text;
}

bool safety_open(const JoinedCutter& cutter, const Limits& limits) {
  const std::optional<Quantity>& drop = cutter.measured.gauge_drop_mm;
  if (!drop) return false;
  return against_most(*drop, gauge_setting(cutter.measured.length_mm, limits).most_mm) == Standing::kUndecided;
}

class ChainJudge {
 public:
  explicit ChainJudge(const ChainCase& c) : case_(c) {}

  ChainVerdict judge() {
    by_reports();
    by_ends();
    by_gauges();
    by_work();
    by_evenness();
    by_what_is_open();
    if (said_.empty()) say(kNothing, "every cutter was seen from both sides, and nothing is wrong");
    std::stable_sort(said_.begin(), said_.end(), [](const Said& a, const Said& b) { return a.weight < b.weight; });
    verdict_.action = action_of(said_.front().weight);
    for (const Said& said : said_) verdict_.why.push_back(said.why);
    return std::move(verdict_);
  }

 private:
  /// What hurts weighs first; the heaviest decides, the others are still told.
  enum Weight { kEnds, kHurts, kMayHurt, kToDo, kOpen, kNothing, kRemark };
  struct Said {
    Weight weight;
    std::string why;
  };

  static ChainAction action_of(Weight weight) {
    switch (weight) {
      case kEnds:
        return ChainAction::kRetire;
      case kHurts:
        return ChainAction::kOutOfUse;
      case kToDo:
        return ChainAction::kFile;
      case kNothing:
      case kRemark:
        return ChainAction::kUse;
      case kMayHurt:
      case kOpen:
        break;
    }
    return ChainAction::kUndecided;
  }

  void say(Weight weight, const std::string& why) { said_.push_back({weight, why}); }
  [[nodiscard]] bool decided() const {
    return std::any_of(said_.begin(), said_.end(), [](const Said& s) { return s.weight < kNothing; });
  }

  [[nodiscard]] std::vector<const JoinedCutter*> with(Action action) const {
    std::vector<const JoinedCutter*> found;
    for (const JoinedCutter& c : case_.cutters) {
      if (c.verdict.action == action) found.push_back(&c);
    }
    return found;
  }

  [[nodiscard]] int all() const {
    return std::max(case_.sequence.count.value_or(0), static_cast<int>(case_.cutters.size()));
  }

  void by_reports() {
    for (const bool ends : {true, false}) {
      for (const ReportedFault& fault : case_.reported) {
        const KnownFault* k = known(fault.what);
        const bool this_ends = k == nullptr || k->ends_chain;
        if (this_ends != ends) continue;
        const std::string where = fault.number ? " at cutter " + std::to_string(*fault.number) : "";
        say(ends ? kEnds : kHurts,
            "you found: " + fault.what + where + ": " +
                (k ? k->why : "a fault nobody here can judge: show the chain to somebody qualified"));
      }
    }
  }

  void by_ends() {
    const auto ended = with(Action::kRetire);
    if (static_cast<int>(ended.size()) >= too_many_at_end(all())) {
      say(kEnds, counted(static_cast<int>(ended.size()), "cutter") + " of " + std::to_string(all()) +
                     " are at their end, " + std::to_string(too_many_at_end(all())) +
                     " are too many to replace (proposed, no source): " + numbers_of(ended));
    } else if (!ended.empty()) {
      say(kHurts, numbers_of(ended) +
                      ": at the end; have it replaced by somebody qualified before the chain runs "
                      "again, or retire the chain");
    }
    if (!case_.plan.target_mm) return;
    const Limit& limit = case_.limits.retired_length_mm;
    const Standing standing = against_least(*case_.plan.target_mm, limit.value);
    const std::string target = "the plan would file every cutter to " + mm_text(*case_.plan.target_mm);
    const std::string end = mm_text(limit.value) + " " + source_text(limit);
    if (standing == Standing::kBeyond) {
      say(kEnds, target + ", under " + end + ": " +
                     (case_.plan.options.empty() ? "not worth filing" : "see the options, else retire"));
    } else if (standing == Standing::kUndecided) {
      say(kMayHurt, target + ", too close to " + end + " to call: measure cutter " +
                        std::to_string(case_.plan.decided_by.value_or(0)) + " with a calliper");
    }
  }

  void by_gauges() {
    const auto low = with(Action::kGaugeTooLow);
    if (!low.empty()) {
      say(kHurts, numbers_of(low) + ": gauge too low; too much drop invites kickback. Not to be run " +
                      "until the plan brings it back or the cutter is replaced");
    }
    std::vector<const JoinedCutter*> open;
    for (const JoinedCutter& c : case_.cutters) {
      if (c.verdict.action != Action::kGaugeTooLow && safety_open(c, case_.limits)) open.push_back(&c);
    }
    if (open.empty()) return;
    say(kMayHurt, numbers_of(open) +
                      ": gauge too close to the most allowed to call; treat it as too low until a "
                      "depth gauge tool has decided");
  }

  void by_work() {
    const auto count = [&](std::initializer_list<Action> actions) {
      return static_cast<int>(std::count_if(case_.plan.work.begin(), case_.plan.work.end(), [&](const CutterWork& w) {
        return std::find(actions.begin(), actions.end(), w.action) != actions.end();
      }));
    };
    const int filed = count({Action::kFile, Action::kTouchUp});
    if (case_.plan.target_mm && filed > 0) {
      say(kToDo, "file " + counted(filed, "cutter") + " to " + mm_text(*case_.plan.target_mm));
    }
    const auto lowered = std::count_if(case_.plan.work.begin(), case_.plan.work.end(),
                                       [](const CutterWork& w) { return w.gauge_take_mm.has_value(); });
    if (lowered > 0) say(kToDo, "lower " + counted(static_cast<int>(lowered), "gauge") + ", after filing");
  }

  void by_evenness() {
    const auto spread = length_spread(case_.chain, case_.cutters);
    const Limit& warn = case_.limits.length_spread_warn_mm;
    if (spread && against_most(spread->quantity(), warn.value) == Standing::kBeyond) {
      say(kRemark, "longest and shortest cutter differ by " + mm_text(spread->quantity()) + ", over " +
                       mm_text(warn.value) + " " + source_text(warn) + ": rough, skewed cut");
    }
    by_angles();
  }

  void by_angles() {
    TracedValue sums[2];
    int counts[2] = {0, 0};
    for (const JoinedCutter& c : case_.cutters) {
      if (!c.hand) continue;
      const auto angle = joined_value(case_.chain, c, &CutterMeasurement::edge_angle_rad, CutterValue::kEdgeAngle);
      if (!angle) continue;
      sums[static_cast<int>(*c.hand)].add(1, angle->value);
      ++counts[static_cast<int>(*c.hand)];
    }
    if (counts[0] == 0 || counts[1] == 0) return;
    TracedValue apart;
    apart.add(1.0 / counts[0], sums[0]);
    apart.add(-1.0 / counts[1], sums[1]);
    const Quantity q = apart.quantity();
    const Quantity size{std::abs(q.value), q.budget};
    for (const Limit* limit : {&case_.limits.left_right_act_rad, &case_.limits.left_right_warn_rad}) {
      if (against_most(size, limit->value) != Standing::kBeyond) continue;
      const std::string text = "left- and right-handers differ by " + degrees_text(size) + " of edge angle, over " +
                               degrees_text(limit->value) + " " + source_text(*limit) + ": the saw pulls to one side";
      if (limit == &case_.limits.left_right_act_rad) {
        say(kToDo, text);
      } else {
        say(kRemark, text);
      }
      return;
    }
  }

  void by_what_is_open() {
    const auto undecided = with(Action::kUndecided);
    if (!undecided.empty()) {
      const std::string text =
          counted(static_cast<int>(undecided.size()), "cutter") + " undecided: " + numbers_of(undecided);
      if (decided()) {
        verdict_.cannot_claim.push_back(text);
      } else {
        say(kOpen, text);
      }
    }
    if (case_.cutters.empty()) {
      say(kOpen, "no cutter of the chain could be measured and numbered");
      return;
    }
    tell_unseen();
    verdict_.cannot_claim.emplace_back(
        "cracks, loose rivets, heat and wear of links and drive links: no photograph of "
        "cutters shows them; look at the chain before each use");
  }

  void tell_unseen() {
    verdict_.look_next = look_next(case_.cutters, case_.sequence, kMostAsked);
    const int seen = static_cast<int>(case_.cutters.size());
    if (!case_.sequence.count) {
      verdict_.cannot_claim.push_back(std::string("how many cutters the chain has is not known (drive_links in its ") +
                                      "sheet): of others than these " + std::to_string(seen) + " nothing is said");
      if (!decided()) say(kOpen, "only these cutters were judged, and they are in order");
      return;
    }
    const int missing = *case_.sequence.count - seen;
    if (missing <= 0) return;
    const bool clean = std::all_of(case_.cutters.begin(), case_.cutters.end(), [](const JoinedCutter& c) {
      return c.verdict.action == Action::kLeave || c.verdict.action == Action::kTouchUp;
    });
    const std::string of = std::to_string(seen) + " of " + std::to_string(*case_.sequence.count) + " cutters";
    if (clean) {
      verdict_.cannot_claim.push_back(of + " were seen and none is damaged: up to " +
                                      std::to_string(most_bad_unseen(*case_.sequence.count, seen)) +
                                      " of the others may still be (95 %, if these were picked blindly)");
      if (!decided()) say(kOpen, "what was seen is in order, but a few cutters do not clear a chain");
      return;
    }
    verdict_.cannot_claim.push_back(of + " were seen: the target may have to go lower, and " +
                                    counted(missing, "unseen gauge") + " may be too low");
  }

  const ChainCase& case_;
  ChainVerdict verdict_;
  std::vector<Said> said_;
};

}  // namespace

int too_many_at_end(int cutters) { return std::max(3, (cutters + 9) / 10); }

ChainVerdict judge_chain(const ChainCase& chain_case) { return ChainJudge(chain_case).judge(); }

std::optional<ReportedFault> reported_fault(const std::string& text) {
  const std::size_t colon = text.find(':');
  ReportedFault fault;
  fault.what = text.substr(0, colon);
  std::replace(fault.what.begin(), fault.what.end(), '-', ' ');
  if (!known(fault.what)) return std::nullopt;
  if (colon == std::string::npos) return fault;
  int number = 0;
  const char* begin = text.data() + colon + 1;
  const char* end = text.data() + text.size();
  const auto read = std::from_chars(begin, end, number);
  if (read.ec != std::errc{} || read.ptr != end || number < 1) return std::nullopt;
  fault.number = number;
  return fault;
}

}  // namespace glintline
