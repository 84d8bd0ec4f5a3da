#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/measurement.h"
#include "model/verdict.h"

namespace glintline {

/// A cutter with its decision.
struct InspectedCutter {
  CutterMeasurement measured;
  Verdict verdict;
};

/// What became of one photograph: measured, or refused with the reason. Assembled once by pipeline, never changed.
struct Inspection {
  std::string photo_path;
  std::string photo_sha256;  ///< empty where the file could not be read
  std::string program_version;
  std::optional<Error> refusal;
  std::optional<CardPose> card;  ///< may be there although the photograph was refused later on
  ViewKind view = ViewKind::kProfile;
  double mm_per_px = 0;
  std::optional<Quantity> pitch_mm;
  std::vector<InspectedCutter> cutters;
  std::vector<std::string> notes;
};

}  // namespace glintline
