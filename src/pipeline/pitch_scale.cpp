#include "pipeline/pitch_scale.h"

#include <cmath>

#include "base/text.h"
#include "locate/camera_prior.h"
#include "measure/profile_heights.h"
#include "measure/profile_measure.h"
#include "measure/scale_check.h"
#include "trace/profile_trace.h"
#include "trace/rivet_spacing.h"

namespace glintline {
namespace {

// Held by hand and by eye: within 5 degrees of straight on with 95 % (by judgement).
constexpr double kTiltU = 2.5 * M_PI / 180;
// A worn chain is longer than its sheet says, by up to about half a per cent (common practice, no source).
constexpr double kPitchU = 0.0025;

/// The camera straight over the middle of a stand-in card whose field fills the picture.
CardPose straight_on(const Photo& photo, const Camera& camera, double rivet_distance_mm, double rivet_height_mm) {
  CardPose pose;
  const double width = photo.bgr.cols;
  const double height = photo.bgr.rows;
  const double mm_per_px = rivet_distance_mm / camera.fx;
  const bool upright = height > width;
  pose.square_mm = std::max(width, height) * mm_per_px / kFieldColumns;
  pose.view.camera = camera;
  Eigen::Matrix3d turn = Eigen::Matrix3d::Identity();
  if (upright) turn << 0, 1, 0, -1, 0, 0, 0, 0, 1;  // the board's long side along the picture's
  pose.view.camera_from_board.rotation = turn;
  const Point3 middle_in_board(kCardColumns * pose.square_mm / 2, kCardRows * pose.square_mm / 2, 0);
  const Point3 middle_in_camera(((width - 1) / 2 - camera.cx) * mm_per_px, ((height - 1) / 2 - camera.cy) * mm_per_px,
                                rivet_distance_mm + rivet_height_mm);
  pose.view.camera_from_board.translation = middle_in_camera - turn * middle_in_board;
  pose.blur_px = 1;
  return pose;
}

/// Turned about `axis` (camera frame) through the point of the optical axis at the rivets.
CameraView tilted(CameraView view, const Point3& axis, double angle_rad, double rivet_distance_mm) {
  const Point3 pivot(0, 0, rivet_distance_mm);
  const Eigen::Matrix3d turn = Eigen::AngleAxisd(angle_rad, axis).toRotationMatrix();
  view.camera_from_board.rotation = turn * view.camera_from_board.rotation;
  view.camera_from_board.translation = turn * (view.camera_from_board.translation - pivot) + pivot;
  return view;
}

/// What was assumed, moved by its standard uncertainty, the rivets always a pitch apart.
std::vector<ViewVariation> doubts(const CardPose& pose, double u_scale, double rivet_distance_mm) {
  std::vector<ViewVariation> all;
  CameraView scaled = pose.view;
  scaled.camera_from_board.translation.z() += u_scale * rivet_distance_mm;
  all.push_back({Source::kPose, scaled});
  all.push_back({Source::kPose, tilted(pose.view, Point3::UnitX(), kTiltU, rivet_distance_mm)});
  all.push_back({Source::kPose, tilted(pose.view, Point3::UnitY(), kTiltU, rivet_distance_mm)});
  CameraView longer = pose.view;
  const double factor = std::exp(pose.view.camera.u_focal_rel);
  longer.camera.fx *= factor;
  longer.camera.fy *= factor;
  longer.camera_from_board.translation.z() += (factor - 1) * rivet_distance_mm;
  all.push_back({Source::kFocal, longer});
  return all;
}

double u_of_rivets(const Quantity& pitch) {
  double sum = 0;
  for (const BudgetLine& line : pitch.budget) {
    if (line.source == Source::kEdge || line.source == Source::kDefinition) sum += line.u * line.u;
  }
  return std::sqrt(sum) / pitch.value;
}

}  // namespace

Result<PitchScaled> measure_by_pitch(const Photo& photo, const Setup& setup) {
  if (!setup.chain.pitch_mm) {
    return Error{Fault::kBadOption, "a scale from the pitch needs the chain's pitch: give --pitch or its sheet",
                 photo.path};
  }
  const double pitch_mm = *setup.chain.pitch_mm;
  const auto spacing = rivet_spacing(photo, pitch_mm);
  if (!spacing) {
    return Error{
        Fault::kNoCutter,
        "no card, and no four rivet heads in a row to take the scale from: put the card in the picture, or show "
        "more of the chain from the side",
        photo.path};
  }
  const double mm_per_px = pitch_mm / spacing->px;
  const Camera camera = camera_prior(photo, setup, mm_per_px).camera;
  const double rivet_height_mm = profile_heights(setup, true).usual.rivets;
  const CardPose rough = straight_on(photo, camera, camera.fx * mm_per_px, rivet_height_mm);
  const auto outlines = trace_profile(photo, rough, rivet_height_mm);
  if (!outlines.ok()) return outlines.error();
  const auto seen = measured_pitch(*outlines, rough, setup);
  if (!seen) {
    return Error{Fault::kNoCutter, "no card, and no three rivet heads clear enough to take the scale from", photo.path};
  }
  const double distance_mm = camera.fx * mm_per_px * pitch_mm / seen->value;
  CardPose pose = straight_on(photo, camera, distance_mm, rivet_height_mm);
  pose.variations = doubts(pose, std::hypot(u_of_rivets(*seen), kPitchU), distance_mm);
  pose.warnings.push_back("no card: the scale rests on the pitch of " + fixed(pitch_mm, 3) +
                          " mm alone, and the camera is taken as straight on");
  Measurements measurements = measure_profile(*outlines, pose, setup);
  measurements.pitch_mm.reset();
  return PitchScaled{std::move(pose), std::move(measurements)};
}

}  // namespace glintline
