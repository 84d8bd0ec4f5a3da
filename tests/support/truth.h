#pragma once

#include <filesystem>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

#include "model/card_pose.h"

namespace glintline::testing {

/// The truth file beside a sample photograph; see samples/README.md for its fields.
[[nodiscard]] nlohmann::json truth_of(const std::filesystem::path& photograph);

/// The exact card pose and camera of the upright photograph, without variations: for developing and testing later
/// stages apart from locating.
[[nodiscard]] CardPose exact_card_pose(const nlohmann::json& truth);

/// The folder of the larger photograph set where it lies beside the checkout, else nothing: tests that want it skip.
[[nodiscard]] std::optional<std::filesystem::path> larger_set();

}  // namespace glintline::testing
