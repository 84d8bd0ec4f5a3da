#pragma once

#include <optional>
#include <vector>

#include "model/measurement.h"

namespace glintline {

/// What a photograph's file name, or the user's list, says of it; the picture itself may say otherwise.
struct PhotoClaim {
  std::vector<int> numbers;  ///< of the cutters it is for, as written
  std::optional<ViewKind> view;
  std::optional<Hand> hand;

  [[nodiscard]] bool operator==(const PhotoClaim&) const = default;
};

}  // namespace glintline
