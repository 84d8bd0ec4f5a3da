#pragma once

#include <filesystem>
#include <functional>
#include <opencv2/core/mat.hpp>
#include <span>

#include "base/result.h"
#include "model/photo.h"

namespace glintline::testing {

/// What another camera would have made of the same light, so that the truth stays: changes a picture of sRGB codes.
using Rework = std::function<void(cv::Mat& bgr)>;

struct NamedRework {
  const char* name;
  Rework rework;
};

/// The photograph at `path`, reworked where `rework` is not empty. Fails as read_photo does.
[[nodiscard]] Result<Photo> read_reworked(const std::filesystem::path& path, const Rework& rework);

/// Warm light, a third of the light, a phone's tone curve, strong sharpening, grain, and a smoother lens.
[[nodiscard]] std::span<const NamedRework> reworks();

}  // namespace glintline::testing
