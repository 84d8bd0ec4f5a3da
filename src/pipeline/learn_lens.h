#pragma once

#include <filesystem>
#include <functional>
#include <vector>

#include "model/lens_calibration.h"
#include "model/setup.h"

namespace glintline {

/// Told of each photograph once the card was looked for in it: how many crossings, or the reason why none.
using LensWitness = std::function<void(const std::filesystem::path& path, const Result<int>& crossings)>;

/// Learns a camera from photographs of the card. Only what one camera took in one way belongs together: where picture
/// size, zoom, camera or card differ, the largest such group counts and the others are left out with that reason, as
/// are unreadable files, pictures given twice and those without enough of the card. Never fails: what stood in the way
/// becomes LensCalibration::refusal, and the photographs keep their reasons. Holds one photograph at a time.
[[nodiscard]] LensCalibration learn_lens(const std::vector<std::filesystem::path>& paths, const Setup& setup,
                                         const LensWitness& witness = {});

}  // namespace glintline
