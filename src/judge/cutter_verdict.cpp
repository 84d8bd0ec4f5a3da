#include "judge/cutter_verdict.h"

#include <algorithm>
#include <initializer_list>

#include "judge/ruling.h"

namespace glintline {

namespace {

template <typename T>
void add_once(std::vector<T>& list, const T& item) {
  if (std::find(list.begin(), list.end(), item) == list.end()) list.push_back(item);
}

bool undecided(const Ruling& r) {
  return r.finding.standing == Standing::kUndecided || (r.needed && r.finding.standing == Standing::kUnknown);
}

bool calls_for(const std::vector<Ruling>& rulings, Action action) {
  return std::any_of(rulings.begin(), rulings.end(), [&](const Ruling& r) { return r.calls_for == action; });
}

Action action_of(const std::vector<Ruling>& rulings) {
  for (const Action action : {Action::kGaugeTooLow, Action::kRetire}) {
    if (calls_for(rulings, action)) return action;
  }
  if (std::any_of(rulings.begin(), rulings.end(), [](const Ruling& r) { return r.safety && undecided(r); })) {
    return Action::kUndecided;
  }
  for (const Action action : {Action::kFile, Action::kLowerGauge, Action::kTouchUp}) {
    if (calls_for(rulings, action)) return action;
  }
  return std::any_of(rulings.begin(), rulings.end(), undecided) ? Action::kUndecided : Action::kLeave;
}

/// Nothing is done to a cutter that leaves the chain, and what is filed needs no touching up.
bool pointless(Action action, const std::vector<Action>& chosen) {
  const auto has = [&](Action a) { return std::find(chosen.begin(), chosen.end(), a) != chosen.end(); };
  if (has(Action::kRetire)) return action > Action::kRetire;
  return action == Action::kTouchUp && has(Action::kFile);
}

std::vector<Action> also_of(const std::vector<Ruling>& rulings, Action action) {
  std::vector<Action> wanted;
  for (const Ruling& r : rulings) {
    if (r.calls_for) add_once(wanted, *r.calls_for);
    for (const Action a : r.also) add_once(wanted, a);
  }
  std::sort(wanted.begin(), wanted.end());
  std::vector<Action> chosen{action};
  for (const Action a : wanted) {
    if (!pointless(a, chosen)) add_once(chosen, a);
  }
  chosen.erase(chosen.begin());
  return chosen;
}

/// Smaller speaks earlier.
int rank(const Ruling& r, Action action) {
  if (r.calls_for == action) return 0;
  const bool open = undecided(r);
  if (open && action == Action::kUndecided) return r.safety ? 1 : 2;
  if (r.calls_for) return 3;
  if (open) return 4;
  return r.finding.standing == Standing::kUnknown ? 6 : 5;
}

Verdict out_of_place(const CutterMeasurement& cutter) {
  Verdict verdict;
  verdict.why = cutter.missing;
  if (verdict.why.empty()) verdict.why.emplace_back("lies over the card's squares or leaves the picture");
  // What was looked at and told no shape says itself what to do.
  const auto told = [](const std::string& missing) { return missing.starts_with("not measured"); };
  if (std::ranges::none_of(cutter.missing, told)) {
    verdict.would_decide.emplace_back("shift the chain until the whole cutter lies over the card's plain field");
  }
  return verdict;
}

}  // namespace

Verdict judge_cutter(const CutterMeasurement& cutter, const Limits& limits, ViewKind view) {
  if (!cutter.over_field) return out_of_place(cutter);
  const EdgeRuling edge = rule_edge(cutter, limits, view);
  std::vector<Ruling> rulings{rule_gauge(cutter, edge.stock, limits, view),
                              rule_length(cutter, edge.stock, limits, view), edge.chips, edge.rounding};
  for (Ruling& angle : rule_angles(cutter, limits, view)) rulings.push_back(std::move(angle));

  Verdict verdict;
  verdict.action = action_of(rulings);
  verdict.also = also_of(rulings, verdict.action);
  std::stable_sort(rulings.begin(), rulings.end(),
                   [&](const Ruling& a, const Ruling& b) { return rank(a, verdict.action) < rank(b, verdict.action); });
  for (const Ruling& r : rulings) {
    verdict.findings.push_back(r.finding);
    add_once(verdict.why, r.finding.text);
    for (const std::string& note : r.notes) add_once(verdict.why, note);
    if (!undecided(r)) continue;
    for (const std::string& need : r.would_decide) add_once(verdict.would_decide, need);
  }
  for (const std::string& missing : cutter.missing) add_once(verdict.why, missing);
  return verdict;
}

}  // namespace glintline
