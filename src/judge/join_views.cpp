#include "judge/join_views.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "judge/cutter_verdict.h"
#include "judge/sighted_values.h"
#include "judge/standing.h"
#include "judge/wording.h"

namespace glintline {

namespace {

std::string file_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

/// Chips of two photographs are one chip up to here, or up to half its width (s is found to a few tenths at a worn
/// corner; proposed, no source).
constexpr double kSameChipMm = 0.4;

bool same_chip(const Chip& a, const Chip& b) {
  return std::abs(a.at_mm - b.at_mm) <= std::max({kSameChipMm, a.width_mm.value / 2, b.width_mm.value / 2});
}

class Joiner {
 public:
  Joiner(const std::vector<Inspection>& photos, const Limits& limits) : chain_{photos, 0, 0}, limits_(limits) {}

  JoinedCutter joined(JoinedCutter cutter, const CutterSequence& sequence) const {
    cutter.place = sequence.place_of(cutter.number);
    join_hands(cutter, sequence);
    join_numbers(cutter);
    join_edges(cutter);
    for (const ViewKind view : {ViewKind::kProfile, ViewKind::kPlan}) {
      if (!seen_in(cutter, view)) cutter.missing_views.push_back(view);
    }
    gather_missing(cutter);
    cutter.verdict = judged(cutter);
    return cutter;
  }

 private:
  [[nodiscard]] const Inspection& photo(const CutterSighting& at) const { return chain_.photos[at.photo]; }

  [[nodiscard]] bool seen_in(const JoinedCutter& cutter, ViewKind view) const {
    return std::any_of(cutter.sightings.begin(), cutter.sightings.end(),
                       [&](const CutterSighting& at) { return photo(at).view == view; });
  }

  void join_hands(JoinedCutter& cutter, const CutterSequence& sequence) const {
    for (const CutterSighting& at : cutter.sightings) {
      const std::optional<Hand>& hand = measurement_at(chain_, at).hand;
      if (!hand) continue;
      if (cutter.hand && *cutter.hand != *hand) {
        cutter.contradictions.push_back("hand: a left-hander in one photograph, a right-hander in another (" +
                                        file_name(photo(at).photo_path) + ")");
      }
      if (!cutter.hand) cutter.hand = hand;
    }
    if (!cutter.hand) cutter.hand = sequence.hand_of(cutter.number);
    cutter.measured.hand = cutter.hand;
    cutter.measured.number = cutter.number;
  }

  void join_numbers(JoinedCutter& cutter) const {
    struct Joined {
      QuantityOf quantity;
      CutterValue what;
    };
    for (const Joined& j : {Joined{&CutterMeasurement::length_mm, CutterValue::kLength},
                            {&CutterMeasurement::gauge_drop_mm, CutterValue::kDrop},
                            {&CutterMeasurement::edge_angle_rad, CutterValue::kEdgeAngle},
                            {&CutterMeasurement::top_slope_rad, CutterValue::kTopSlope},
                            {&CutterMeasurement::hook_angle_rad, CutterValue::kHook},
                            {&CutterMeasurement::corner_rounding_um, CutterValue::kCornerRounding},
                            {&CutterMeasurement::edge_radius_um, CutterValue::kRadius},
                            {&CutterMeasurement::edge_radius_p90_um, CutterValue::kRadiusP90}}) {
      const auto value = joined_value(chain_, cutter, j.quantity, j.what);
      if (!value) continue;
      cutter.measured.*j.quantity = value->value.quantity();
      if (!value->contradiction.empty()) cutter.contradictions.push_back(value->contradiction);
    }
    const bool whole = std::any_of(cutter.sightings.begin(), cutter.sightings.end(), [&](const CutterSighting& at) {
      return measurement_at(chain_, at).whole_length_mm.has_value();
    });
    const auto base = base_length(chain_, cutter);
    if (whole && base) cutter.measured.whole_length_mm = base->quantity();
  }

  void join_edges(JoinedCutter& cutter) const {
    std::vector<CutterSighting> plans;
    for (const CutterSighting& at : cutter.sightings) {
      if (photo(at).view == ViewKind::kPlan) plans.push_back(at);
    }
    std::stable_sort(plans.begin(), plans.end(), [&](const CutterSighting& a, const CutterSighting& b) {
      const bool searched_a = measurement_at(chain_, a).chips_searched;
      const bool searched_b = measurement_at(chain_, b).chips_searched;
      return searched_a != searched_b ? searched_a : photo(a).mm_per_px < photo(b).mm_per_px;
    });
    if (plans.empty()) return;
    const CutterMeasurement& best = measurement_at(chain_, plans.front());
    cutter.measured.chips = best.chips;
    cutter.measured.chips_searched = best.chips_searched;
    cutter.measured.edge_chart = best.edge_chart;
    cutter.measured.corner_loss_mm = best.corner_loss_mm;
    for (const CutterSighting& at : plans) {
      const CutterMeasurement& m = measurement_at(chain_, at);
      std::optional<double>& limit = cutter.measured.edge_radius_limit_um;
      if (m.edge_radius_limit_um) limit = std::min(limit.value_or(*m.edge_radius_limit_um), *m.edge_radius_limit_um);
      for (const Chip& chip : m.chips) add_unseen_chip(cutter, chip, photo(at).photo_path);
    }
  }

  void add_unseen_chip(JoinedCutter& cutter, const Chip& chip, const std::string& path) const {
    const auto& known = cutter.measured.chips;
    if (std::any_of(known.begin(), known.end(), [&](const Chip& k) { return same_chip(k, chip); })) return;
    if (against_most(chip.depth_mm, limits_.chip_depth_mm.value) == Standing::kWithin) return;
    cutter.contradictions.push_back(place_text(chip) + ": seen in " + file_name(path) +
                                    ", not in another; reckoned with");
    cutter.measured.chips.push_back(chip);
  }

  /// What photographs say they could not give, unless another one gave it.
  void gather_missing(JoinedCutter& cutter) const {
    for (const CutterSighting& at : cutter.sightings) {
      const CutterMeasurement& joined = cutter.measured;
      const bool given = photo(at).view == ViewKind::kProfile
                             ? joined.gauge_drop_mm && joined.length_mm
                             : (joined.edge_radius_um || joined.edge_radius_limit_um) && joined.chips_searched;
      if (given) continue;
      for (const std::string& line : measurement_at(chain_, at).missing) {
        auto& missing = cutter.measured.missing;
        if (std::find(missing.begin(), missing.end(), line) == missing.end()) missing.push_back(line);
      }
    }
  }

  [[nodiscard]] Verdict judged(const JoinedCutter& cutter) const {
    const bool plan = seen_in(cutter, ViewKind::kPlan);
    Verdict verdict = judge_cutter(cutter.measured, limits_, plan ? ViewKind::kPlan : ViewKind::kProfile);
    const bool no_drop = !cutter.measured.gauge_drop_mm;
    if (!no_drop && plan && cutter.contradictions.empty()) return verdict;
    if (no_drop) verdict.would_decide.emplace_back("a profile photograph that shows the gauge drop");
    if (!plan) verdict.would_decide.emplace_back("a plan photograph that shows the edge");
    if (!cutter.contradictions.empty()) {
      verdict.why.insert(verdict.why.begin() + (verdict.action == Action::kUndecided ? 0 : 1),
                         cutter.contradictions.begin(), cutter.contradictions.end());
      verdict.would_decide.emplace_back("another photograph of this cutter with its tag: two contradict one another");
    }
    if (verdict.action != Action::kLeave && verdict.action != Action::kTouchUp) return verdict;
    if (verdict.action == Action::kTouchUp) verdict.also.insert(verdict.also.begin(), Action::kTouchUp);
    verdict.action = Action::kUndecided;
    verdict.why.insert(verdict.why.begin(), no_drop ? "its gauge was not seen: not known whether it is too low"
                                            : !plan ? "its edge was not seen: sharp or dull is not known"
                                                    : "its photographs contradict one another");
    return verdict;
  }

  ChainPhotos chain_;
  const Limits& limits_;
};

}  // namespace

std::vector<JoinedCutter> join_views(const std::vector<Inspection>& photos, const Numbering& numbering,
                                     const Limits& limits) {
  std::map<int, JoinedCutter> by_number;
  for (std::size_t p = 0; p < photos.size(); ++p) {
    for (std::size_t c = 0; c < numbering.numbers[p].size(); ++c) {
      const auto& number = numbering.numbers[p][c];
      if (!number) continue;
      JoinedCutter& cutter = by_number[number->number];
      cutter.numbered_by = cutter.sightings.empty() ? number->by : std::min(cutter.numbered_by, number->by);
      cutter.number = number->number;
      cutter.sightings.push_back({p, c});
    }
  }
  const Joiner joiner(photos, limits);
  std::vector<JoinedCutter> cutters;
  for (auto& [number, cutter] : by_number) cutters.push_back(joiner.joined(std::move(cutter), numbering.sequence));
  return cutters;
}

}  // namespace glintline
