#pragma once

#include <opencv2/core/mat.hpp>
#include <string>

#include "base/result.h"

namespace glintline {

/// A CV_8UC4 picture (BGRX, sRGB) as the bytes of a JPEG file. Fails: kCannotWrite with libjpeg's own words.
[[nodiscard]] Result<std::string> jpeg_bytes(const cv::Mat& bgrx, int quality = 90);

}  // namespace glintline
