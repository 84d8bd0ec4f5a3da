#pragma once

#include <filesystem>
#include <initializer_list>
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

/// True for a cutter whole in the picture whose named points lie over the card's plain field.
[[nodiscard]] bool lies_over_field(const nlohmann::json& truth, const nlohmann::json& cutter,
                                   std::initializer_list<const char*> points);

/// The photographs of a folder that have a truth file of this view ("profile", "plan") beside them, by name.
[[nodiscard]] std::vector<std::filesystem::path> photographs_of(const std::filesystem::path& folder, const char* view);

/// The folder of the larger photograph set where it lies beside the checkout, else nothing: tests that want it skip.
[[nodiscard]] std::optional<std::filesystem::path> larger_set();

}  // namespace glintline::testing
