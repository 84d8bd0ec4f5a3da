#pragma once

#include <opencv2/core.hpp>
#include <optional>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/profile_outlines.h"
#include "trace/field_colour.h"

namespace glintline {

/// The place of one cutter in the board frame, mm, in a plane at `height_mm` over the card.
struct CutterFrame {
  Point2 rear_rivet_mm = Point2::Zero();
  Point2 front_rivet_mm = Point2::Zero();
  Point2 up = Point2::Zero();  ///< unit, square to the rivet line, away from the bar
  double height_mm = 0;
};

/// Traces the outlines of a cutter against the field: top plate, its front and rear, depth gauge. Looks several times,
/// its picture sampled a fraction of a pixel elsewhere each time.
/// fails: kNotMeasurable where plate or gauge cannot be told from the field, kBlurred where the outlines are too soft,
/// in half of the looks or more.
[[nodiscard]] Result<CutterOutline> trace_cutter(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                                                 const CutterFrame& cutter);

}  // namespace glintline
