#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "model/measurement.h"
#include "model/verdict.h"

namespace glintline {

using Json = nlohmann::ordered_json;

inline constexpr int kMmDecimals = 4;
inline constexpr int kDegDecimals = 3;
inline constexpr int kUmDecimals = 2;

/// What is not a number is null.
[[nodiscard]] Json rounded_json(double value, int decimals);
/// {"value", "u95"}; null where not known, or not a number.
[[nodiscard]] Json quantity_json(const std::optional<Quantity>& known, int decimals = kMmDecimals);
/// The same in degrees.
[[nodiscard]] Json angle_json(const std::optional<Quantity>& known_rad);
[[nodiscard]] Json number_json(const std::optional<int>& known);
[[nodiscard]] Json hand_json(const std::optional<Hand>& known);
/// Printable lines.
[[nodiscard]] Json texts_json(const std::vector<std::string>& lines);

/// All values of a cutter, chips included; units stand in the keys (README.md tells what they mean).
void add_values(Json& object, const CutterMeasurement& cutter);
/// The judge's reasons, then why values are missing, each once.
[[nodiscard]] Json reasons_json(const Verdict& verdict, const CutterMeasurement& cutter);

}  // namespace glintline
