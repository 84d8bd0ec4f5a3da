#include "pipeline/stages.h"

#include "judge/cutter_verdict.h"
#include "locate/locate_card.h"
#include "read/photo_file.h"
#if __has_include("measure/profile_measure.h")
#include "measure/profile_measure.h"
#include "trace/profile_trace.h"
#define GLINTLINE_HAS_PROFILE 1
#endif
#if __has_include("measure/plan_measure.h") && __has_include("trace/plan_trace.h")
#include "measure/plan_measure.h"
#include "trace/plan_trace.h"
#define GLINTLINE_HAS_PLAN 1
#endif

namespace glintline {
namespace {

Result<Measurements> measure_in_profile([[maybe_unused]] const Photo& photo, [[maybe_unused]] const CardPose& card,
                                        [[maybe_unused]] const Setup& setup) {
#ifdef GLINTLINE_HAS_PROFILE
  const Result<ProfileOutlines> outlines =
      setup.stand_off ? trace_profile(photo, card, setup.stand_off->value_mm) : trace_profile(photo, card);
  if (!outlines.ok()) return outlines.error();
  return measure_profile(*outlines, card, setup);
#else
  return Error{Fault::kNoCutter, "no cutter seen from the side", ""};
#endif
}

Result<Measurements> measure_in_plan([[maybe_unused]] const Photo& photo, [[maybe_unused]] const CardPose& card,
                                     [[maybe_unused]] const Setup& setup) {
#ifdef GLINTLINE_HAS_PLAN
  const Result<PlanOutlines> outlines = trace_plan(photo, card);
  if (!outlines.ok()) return outlines.error();
  return measure_plan(*outlines, card, setup);
#else
  return Error{Fault::kNoCutter, "no cutter seen from above", ""};
#endif
}

}  // namespace

const Stages& own_stages() {
  static const Stages stages{[](const std::filesystem::path& path) { return read_photo(path); },
                             [](const Photo& photo, const Setup& setup) { return locate_card(photo, setup); },
                             measure_in_profile, measure_in_plan, judge_cutter};
  return stages;
}

}  // namespace glintline
