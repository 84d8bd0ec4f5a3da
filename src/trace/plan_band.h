#pragma once

#include <opencv2/core/mat.hpp>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/photo.h"
#include "trace/plane_picture.h"

namespace glintline {

/// Chromaticity of the card's field: shares of the three channels in linear light, order blue, green, red.
struct FieldShare {
  cv::Vec3f share;
  float reach = 0;  ///< colours nearer than this (Euclidean, shares) are the field's

  [[nodiscard]] bool holds(const cv::Vec3f& linear) const;
};

/// The part of the field that holds the chain, resampled so that the chain runs along the rows.
struct PlanBand {
  PlaneFrame frame;  ///< of the top plates' height; `right` is the slot's direction
  cv::Mat bgr;       ///< CV_8UC3; black outside the picture
  cv::Mat field;     ///< CV_8U, 255 where the colour is the field's
  FieldShare colour;
};

/// The columns [from, to) of a band, cut to it, sampled again at places that are moved by `shift` of a sample.
[[nodiscard]] PlanBand part_of_band(const Photo& photo, const CardPose& pose, const PlanBand& band, int from, int to,
                                    const Point2& shift);

/// Finds the slot in the field by what is not of the field's colour, and resamples it.
/// in: `height_mm` of the top plates over the card. fails: kNoCutter where the field is all of one colour.
/// assumes: the slot runs along the card or across it, within 25 degrees.
[[nodiscard]] Result<PlanBand> find_band(const Photo& photo, const CardPose& pose, double height_mm);

}  // namespace glintline
