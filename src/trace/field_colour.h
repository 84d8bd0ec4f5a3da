#pragma once

#include <opencv2/core.hpp>
#include <optional>

namespace glintline {

/// The plain field's colour as a direction in linear light, so that a cast shadow, which only scales it, keeps it.
struct FieldColour {
  cv::Vec3f direction;  ///< unit vector, linear B, G, R
  float level = 0;      ///< usual length of the field's colour vector, unshadowed

  /// Share of the field's colour in a pixel: its linear light along the field's direction.
  [[nodiscard]] float along(const cv::Vec3b& bgr) const;

  /// Light across the field's direction: 0 on the field, lit or in shadow; large on anything neutral or warm.
  [[nodiscard]] float across(const cv::Vec3b& bgr) const;

  /// True where a pixel's colour is not the field's: the sine between the two directions is over `kOffFieldSine`, and
  /// there is light enough to tell.
  [[nodiscard]] bool differs(const cv::Vec3b& bgr) const;
};

/// Learns the field's colour from a picture of the field with a chain on it: the commonest strong colour.
/// in: 8-bit sRGB. fails (nothing): no strong colour covers a tenth of the picture: not our field.
/// assumes: the chain covers at most about three quarters of it; a chain is neutral or warm.
[[nodiscard]] std::optional<FieldColour> learn_field_colour(const cv::Mat& bgr);

}  // namespace glintline
