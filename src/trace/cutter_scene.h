#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

#include "model/card_pose.h"
#include "trace/cutter_trace.h"
#include "trace/field_colour.h"
#include "trace/plane_picture.h"
#include "trace/sharpening.h"

namespace glintline {

/// What the steps of tracing one cutter look at: the cutter square on, x from rear to front along the rivets, y down towards
/// the bar.
struct CutterScene {
  cv::Mat picture;        ///< sRGB
  cv::Mat solid;          ///< 255 where the picture is not field and joined to the link's body
  PlaneFrame frame;
  double pitch_px = 0;
  Point2 rear_rivet;      ///< picture pixels
  double blur = 1;        ///< usual blur, picture pixels
  double px_per_sample = 1;  ///< photograph's pixels a picture pixel
  ProfileFilter sharpening{{}, 1};  ///< of the picture's pixels
  const FieldColour* field = nullptr;

  /// How far colour is carried out from an edge, picture pixels: of a block of two by two that shares one colour
  /// (4:2:0, ITU-T T.871), up to two of the photograph's pixels, as much again by its interpolation.
  [[nodiscard]] double colour_smear() const { return 4 / px_per_sample; }
  [[nodiscard]] double px(double mm) const { return mm / frame.mm_per_px; }
  [[nodiscard]] int column(double pitches) const {
    return std::clamp(static_cast<int>(std::lround(rear_rivet.x() + pitches * pitch_px)), 0, picture.cols - 1);
  }
};

/// Cuts the cutter out of the photograph, square on, and tells its body from the open field. `shift`: by how many
/// picture pixels its samples are moved, along the rivets and towards the bar.
[[nodiscard]] CutterScene make_cutter_scene(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                                            const CutterFrame& cutter, const Point2& shift = Point2::Zero());

/// The body without what stands out of it, long and thin, in the field's own colour: the steps of a shadow's penumbra
/// in a file's coarse blocks, but also a bevel's edges round a middle that was taken for the field.
[[nodiscard]] cv::Mat solid_without_slivers(const CutterScene& scene, const CardPose& pose);

/// Topmost body pixel of every column, or the picture's height where there is none.
[[nodiscard]] std::vector<int> skyline(const cv::Mat& solid);

/// The point of a line at column `x`. Assumes a line that is not upright.
[[nodiscard]] inline Point2 on_line(const Line2& line, double x) {
  return {x, line.point.y() + (x - line.point.x()) * line.direction.y() / line.direction.x()};
}

}  // namespace glintline
