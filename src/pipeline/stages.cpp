#include "pipeline/stages.h"

#include "judge/cutter_verdict.h"
#include "locate/locate_card.h"
#include "measure/plan_measure.h"
#include "measure/profile_measure.h"
#include "measure/scale_check.h"
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

Result<Measurements> measure_in_plan(const Photo& photo, const CardPose& card, const Setup& setup) {
  const Result<PlanOutlines> outlines = trace_plan(photo, card);
  if (!outlines.ok()) return outlines.error();
  return with_advice(measure_plan(*outlines, card, setup), setup);
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
