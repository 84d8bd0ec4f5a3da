#pragma once

#include <opencv2/core/mat.hpp>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/photo.h"

namespace glintline {

/// Chromaticity of the card's field: shares of the three channels in linear light, order blue, green, red.
struct FieldShare {
  cv::Vec3f share;
  float reach = 0;  ///< colours nearer than this (Euclidean, shares) are the field's

  [[nodiscard]] bool holds(const cv::Vec3f& linear) const;
};

/// The part of the field that holds the chain, resampled so that the chain runs along the columns' axis.
///
/// Sample (i, j) looks at the board point origin + pitch (i along + j across) at `height_mm` over the card.
struct PlanBand {
  Point2 origin_mm = Point2::Zero();
  Point2 along = Point2::UnitX();  ///< direction of the slot, board frame; `across` is its quarter turn
  double pitch_mm = 0;
  double height_mm = 0;
  cv::Mat bgr;    ///< CV_8UC3; black outside the picture
  cv::Mat field;  ///< CV_8U, 255 where the colour is the field's
  FieldShare colour;

  [[nodiscard]] Point2 board(const Point2& sample) const {
    return origin_mm + pitch_mm * (sample.x() * along + sample.y() * turned_quarter(along));
  }
  [[nodiscard]] Point2 sample(const Point2& board_mm) const {
    const Point2 d = (board_mm - origin_mm) / pitch_mm;
    return {d.dot(along), d.dot(turned_quarter(along))};
  }
};

/// The columns [from, to) of a band, cut to it, sampled again at places that are moved by `shift` of a sample.
[[nodiscard]] PlanBand part_of_band(const Photo& photo, const CardPose& pose, const PlanBand& band, int from, int to,
                                    const Point2& shift);

/// Finds the slot in the field by what is not of the field's colour, and resamples it.
/// in: `height_mm` of the top plates over the card. fails: kNoCutter where the field is all of one colour.
/// assumes: the slot runs along the card or across it, within 25 degrees.
[[nodiscard]] Result<PlanBand> find_band(const Photo& photo, const CardPose& pose, double height_mm);

}  // namespace glintline
