#include "pipeline/stages.h"

#include <algorithm>
#include <string>

#include "base/text.h"
#include "card/layout.h"
#include "judge/cutter_verdict.h"
#include "locate/locate_card.h"
#include "measure/plan_measure.h"
#include "measure/profile_measure.h"
#include "measure/scale_check.h"
#include "measure/tag_height.h"
#include "read/photo_file.h"
#include "trace/plan_trace.h"
#include "trace/profile_trace.h"

namespace glintline {
namespace {

Measurements with_advice(Measurements measurements, const Setup& setup) {
  if (auto advice = narrowing_advice(measurements.cutters, setup)) measurements.notes.push_back(std::move(*advice));
  return measurements;
}

Result<Measurements> measure_in_profile(const Photo& photo, const CardPose& card, const Setup& setup) {
  const Result<ProfileOutlines> outlines =
      setup.stand_off ? trace_profile(photo, card, setup.stand_off->value_mm) : trace_profile(photo, card);
  if (!outlines.ok()) return outlines.error();
  return with_advice(measure_profile(*outlines, card, setup), setup);
}

/// The height of the top plates as a tag laid on one tells it, where the set-up does not.
std::optional<KnownLength> told_by_tag(const CardPose& card, const Setup& setup) {
  if (setup.stand_off) return std::nullopt;
  const Result<CardLayout> layout = CardLayout::sized(card.kind, card.square_mm);
  return layout.ok() ? height_of_plates(card, layout->number_tag().marker_mm) : std::nullopt;
}

/// A picture in which nothing could be measured is refused, with the first cutter's reason.
Result<Measurements> unless_empty(Measurements plan) {
  const auto measured = [](const CutterMeasurement& c) { return c.measured(); };
  if (std::any_of(plan.cutters.begin(), plan.cutters.end(), measured)) return plan;
  const bool named = !plan.cutters.empty() && !plan.cutters[0].missing.empty();
  return Error{Fault::kNotMeasurable,
               std::string("no top plate could be measured") + (named ? "; " + plan.cutters[0].missing[0] : ""),
               {}};
}

Result<Measurements> measure_in_plan(const Photo& photo, const CardPose& card, const Setup& setup) {
  const Result<PlanOutlines> outlines = trace_plan(photo, card);
  if (!outlines.ok()) return outlines.error();
  const std::optional<KnownLength> by_tag = told_by_tag(card, setup);
  if (!by_tag) return unless_empty(with_advice(measure_plan(*outlines, card, setup), setup));
  Setup told = setup;
  told.stand_off = by_tag;
  Measurements measurements = measure_plan(*outlines, card, told);
  measurements.notes.push_back("top plates taken to stand " + fixed(by_tag->value_mm, 1) + " +- " +
                               fixed(kCoverage * by_tag->u_mm, 1) + " mm over the card, by the tag that lies on one");
  return unless_empty(with_advice(std::move(measurements), told));
}

}  // namespace

const Stages& own_stages() {
  static const Stages stages{[](const std::filesystem::path& path) { return read_photo(path); },
                             [](const Photo& photo, const Setup& setup) { return locate_card(photo, setup); },
                             measure_in_profile,
                             measure_in_plan,
                             measure_by_pitch,
                             judge_cutter};
  return stages;
}

}  // namespace glintline
