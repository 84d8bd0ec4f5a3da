#include "pipeline/stages.h"

#include "judge/cutter_verdict.h"
#include "locate/locate_card.h"
#include "measure/plan_measure.h"
#include "measure/profile_measure.h"
#include "read/photo_file.h"
#include "trace/plan_trace.h"
#include "trace/profile_trace.h"

namespace glintline {
namespace {

Result<Measurements> measure_in_profile(const Photo& photo, const CardPose& card, const Setup& setup) {
  const Result<ProfileOutlines> outlines =
      setup.stand_off ? trace_profile(photo, card, setup.stand_off->value_mm) : trace_profile(photo, card);
  if (!outlines.ok()) return outlines.error();
  return measure_profile(*outlines, card, setup);
}

Result<Measurements> measure_in_plan(const Photo& photo, const CardPose& card, const Setup& setup) {
  const Result<PlanOutlines> outlines = trace_plan(photo, card);
  if (!outlines.ok()) return outlines.error();
  return measure_plan(*outlines, card, setup);
}

}  // namespace

const Stages& own_stages() {
  static const Stages stages{[](const std::filesystem::path& path) { return read_photo(path); },
                             [](const Photo& photo, const Setup& setup) { return locate_card(photo, setup); },
                             measure_in_profile, measure_in_plan, judge_cutter};
  return stages;
}

}  // namespace glintline
