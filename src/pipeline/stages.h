#pragma once

#include <filesystem>
#include <functional>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/limits.h"
#include "model/measurement.h"
#include "model/photo.h"
#include "model/setup.h"
#include "model/verdict.h"
#include "pipeline/pitch_scale.h"

namespace glintline {

/// The stages a photograph passes, as functions, so that their order can be tested apart from what they do.
struct Stages {
  std::function<Result<Photo>(const std::filesystem::path&)> read;
  std::function<Result<CardPose>(const Photo&, const Setup&)> locate;
  /// Tracing and measuring; of one view each.
  std::function<Result<Measurements>(const Photo&, const CardPose&, const Setup&)> measure_profile;
  std::function<Result<Measurements>(const Photo&, const CardPose&, const Setup&)> measure_plan;
  /// Where no card is seen and the order permits it.
  std::function<Result<PitchScaled>(const Photo&, const Setup&)> measure_by_pitch;
  std::function<Verdict(const CutterMeasurement&, const Limits&, ViewKind)> judge;
};

/// The program's own stages.
[[nodiscard]] const Stages& own_stages();

}  // namespace glintline
