#include "trace/plan_trace.h"

#include <algorithm>
#include <cmath>

#include "math/line_fit.h"
#include "math/statistics.h"
#include "trace/plan_band.h"
#include "trace/plan_edge.h"
#include "trace/plan_light.h"
#include "trace/plan_plates.h"
#include "trace/plan_rounding.h"
#include "trace/plan_shoulder.h"
#include "trace/plan_side.h"
#include "trace/plan_sight.h"

namespace glintline {

namespace {

constexpr double kSideReachMm = 0.25;
/// Rims are rounded by 0 to 0.4 mm (by experience).
constexpr double kMostRimMm = 0.4;
/// The rear rim's dark outer half is a weak step beside its bright inner one, and nothing but the drive link lies
/// behind it; beside the sides lie straps and rivet heads.
constexpr double kSideShare = 0.5;
constexpr double kRearShare = 0.25;
/// A plate whose best rival scores this share of it may be the rival (by experiment: right ones keep under 0.87).
constexpr double kNearRival = 0.93;
constexpr double kBehindMm = 1.6;
constexpr double kBeyondMm = 0.5;
/// A flat as bright as this share of the card's white paper mirrors a lamp.
constexpr float kFlashShare = 0.6F;
/// A softer edge hides any rounding worth measuring.
constexpr double kMostBlurPx = 4;

/// Photograph, pose and what finding them gave.
struct Scene {
  const Photo& photo;
  const CardPose& pose;
  const PlanBand& band;
  float paper = 1;  ///< linear light of the card's white

  [[nodiscard]] Point2 px(const Point2& sample) const {
    const Point2 b = band.board(sample);
    return pose.view.pixel(Point3(b.x(), b.y(), -band.height_mm));
  }
};

/// Brightness of the card's paper: just inside the squares' corners, outside any marker, half of the ring is white.
float paper_white(const Photo& photo, const CardPose& pose) {
  constexpr double kInside = 0.06;  // of a square; a marker begins at 0.125
  const BoardBox board = pose.board();
  const BoardBox field = pose.field();
  std::vector<double> values;
  for (int k = 0; k < kCardColumns * kCardRows; ++k) {
    const Point2 share((k % kCardColumns + kInside) / kCardColumns, (k / kCardColumns + kInside) / kCardRows);
    const Point2 at = share.cwiseProduct(board.max);
    if ((at - field.min).minCoeff() > 0 && (field.max - at).minCoeff() > 0) continue;
    const Point2 px = pose.view.pixel(Point3(at.x(), at.y(), 0));
    if (inside(photo.bgr, px.x(), px.y(), 1)) values.push_back(linear_at(photo.bgr, px.x(), px.y())[1]);
  }
  return values.empty() ? 1 : static_cast<float>(std::max(0.05, percentile(values, 0.75)));
}

/// Corners of a plate in the picture. Index 0: outer side (working corner), 1: inner side.
struct Corners {
  std::array<Point2, 2> rear;
  std::array<Point2, 2> front;
  Point2 middle;
};

Corners corners_of(const Scene& scene, const PlateCandidate& plate) {
  const bool forward = plate.runs_forward();
  const bool upper_leads = (plate.front[0].x() > plate.front[1].x()) == forward;
  const int outer = upper_leads ? 0 : 1;
  Corners out;
  for (int k = 0; k < 2; ++k) {
    out.rear[k] = scene.px(plate.rear[k == 0 ? outer : 1 - outer]);
    out.front[k] = scene.px(plate.front[k == 0 ? outer : 1 - outer]);
  }
  out.middle = (out.rear[0] + out.rear[1] + out.front[0] + out.front[1]) / 4;
  return out;
}

SideSearch search_of(const Point2& from, const Point2& to, const Point2& middle, double px_per_mm) {
  SideSearch out{from, to, turned_quarter((to - from).normalized()), kSideReachMm * px_per_mm, kSideShare};
  out.rim_px = kMostRimMm * px_per_mm;
  if (out.outward.dot(middle - from) > 0) out.outward = -out.outward;
  return out;
}

/// Line through a side's points, or the coarse one where too few were found; runs from `from` to `to`.
Line2 line_of(const SideTrace& side, const Point2& from, const Point2& to) {
  FitOptions options;
  options.loss = Loss::kTukey;
  const Result<LineFit> fit = fit_line(side.points_px, options);
  const Point2 coarse = (to - from).normalized();
  if (!fit.ok() || std::abs(fit->line.direction.dot(coarse)) < 0.98) return {from, coarse};
  return {fit->line.point, fit->line.direction.dot(coarse) > 0 ? fit->line.direction : Point2(-fit->line.direction)};
}

EdgeFrame frame_of(const Corners& c, const Line2& outer, const Line2& inner) {
  const Line2 front{c.front[0], (c.front[1] - c.front[0]).normalized()};
  EdgeFrame frame;
  frame.corner_px = crossing(front, outer).value_or(c.front[0]);
  const Point2 end = crossing(front, inner).value_or(c.front[1]);
  frame.along = (end - frame.corner_px).normalized();
  frame.length_px = (end - frame.corner_px).norm();
  frame.ahead = (outer.direction + inner.direction).normalized();
  frame.sine = std::abs(turned_quarter(frame.along).dot(frame.ahead));
  return frame;
}

OuterSide outer_side(const Corners& c, const Line2& line, const Point2& corner_px, double px_per_mm) {
  const auto foot = [&](const Point2& p) {
    return Point2(line.point + (p - line.point).dot(line.direction) * line.direction);
  };
  OuterSide side{foot(c.rear[0]), foot(corner_px), turned_quarter(line.direction), px_per_mm};
  if (side.inwards.dot(c.middle - side.rear) < 0) side.inwards = -side.inwards;
  return side;
}

EdgeInSpace in_space(const Scene& scene, const EdgeFrame& frame) {
  const CameraView& view = scene.pose.view;
  EdgeInSpace edge;
  edge.corner_mm = view.at_height(frame.corner_px, kUsualHeightMm);
  edge.inner_mm = view.at_height(frame.px(frame.length_px, 0), kUsualHeightMm);
  edge.ahead = (view.at_height(frame.corner_px + 50 * frame.ahead, kUsualHeightMm) - edge.corner_mm).normalized();
  return edge;
}

bool flashes(const EdgePath& path, float paper) {
  std::vector<double> levels;
  for (const cv::Vec3f& f : path.flat) levels.push_back(f[1]);
  return median(levels) > kFlashShare * paper;
}

/// True where the ground ahead of most of the edge is of the field's colour: a slip lies there.
bool over_slip(const EdgePath& path, const FieldShare& colour) {
  const auto count =
      std::count_if(path.ground.begin(), path.ground.end(), [&](const cv::Vec3f& g) { return colour.holds(g); });
  return 10 * count > 6 * static_cast<std::ptrdiff_t>(path.ground.size());
}

/// The outline row by row.
std::vector<ContourPoint> contour_of(const EdgeStrip& strip, const EdgePath& path) {
  std::vector<ContourPoint> out;
  for (int j = 0; j < static_cast<int>(path.n_px.size()); ++j) {
    const double s = strip.s(j);
    out.push_back({strip.frame.px(s, path.n_px[j]), path.contrast[j], strip.frame.px(s, path.flat_n_px[j]),
                   strip.frame.px(s, std::min(path.n_px[j], path.alike_n_px[j])), path.open[j], path.broken[j]});
  }
  return out;
}

/// Standard deviation, px, by which colour is blurred across an edge: a JPEG averages n pixels to a sample, and reading
/// interpolates the samples linearly (libjpeg's "fancy" upsampling); for n = 2 both together have the variance 1.
double colour_blur(const cv::Size& step, const EdgeFrame& frame) {
  const Point2 across = turned_quarter(frame.along);
  const Point2 variance((step.width * step.width - 1) / 3.0, (step.height * step.height - 1) / 3.0);
  return std::sqrt(across.cwiseAbs2().dot(variance));
}

PlateOutline trace_plate(const Scene& scene, const PlateCandidate& plate) {
  const Corners c = corners_of(scene, plate);
  const double px_per_mm = 1 / scene.pose.view.mm_per_px(c.middle, kUsualHeightMm);
  const cv::Mat& bgr = scene.photo.bgr;
  const auto side = [&](const Point2& from, const Point2& to) {
    SideSearch search = search_of(from, to, c.middle, px_per_mm);
    search.flash = kFlashShare * scene.paper;
    return search;
  };
  SideSearch rear_search = side(c.rear[0], c.rear[1]);
  rear_search.clear_share = kRearShare;
  rear_search.rounded_rim = true;
  const SideTrace rear = trace_side(bgr, rear_search);
  // Round a corner's bend the coarse side may lie inside the outline by more than the usual reach.
  constexpr std::size_t kLeastSidePoints = 6;
  SideSearch outer_search = side(c.rear[0], c.front[0]);
  SideTrace outer = trace_side(bgr, outer_search);
  if (outer.points_px.size() < kLeastSidePoints) {
    outer_search.reach_px *= 2;
    outer = trace_side(bgr, outer_search);
  }
  const SideTrace inner = trace_side(bgr, side(c.rear[1], c.front[1]));
  const Line2 outer_line = line_of(outer, c.rear[0], c.front[0]);
  const EdgeFrame frame = frame_of(c, outer_line, line_of(inner, c.rear[1], c.front[1]));
  const Sharpening sharpening = sharpening_of(scene.pose.blur_px, scene.pose.overshoot);
  const EdgeStrip strip = sample_edge(bgr, sharpening, frame, kBehindMm * px_per_mm, kBeyondMm * px_per_mm);
  EdgePath path = find_outline(strip, px_per_mm);
  RoundingTask task;
  task.px_per_mm = px_per_mm;
  task.model = strip_model(scene.pose, in_space(scene, frame), flashes(path, scene.paper));
  task.colour_blur_px = colour_blur(scene.photo.colour_step, frame);
  task.model.mirror_told = over_slip(path, scene.band.colour);
  RoundingFit fit = fit_rounding(strip, path, task);
  PlateOutline out;
  out.rear_px = rear.points_px;
  out.rear_half_range_px = rear.half_range_px;
  out.rear_rim_seen = rear.rim_seen;
  out.rear_in_doubt = plate.rear_rival > kNearRival * plate.score;
  out.outer_side_px = outer.points_px;
  out.inner_side_px = inner.points_px;
  out.shoulder_change = shoulder_change(bgr, outer_side(c, outer_line, frame.corner_px, px_per_mm));
  out.corner_px = frame.corner_px;
  sharpen_path(strip, px_per_mm, path);
  if (fit.model.mirror_told) {
    move_to_strips(fit.ends, static_cast<int>(2 * task.station_mm * px_per_mm / strip.step_s), path);
  } else {
    move_to_flash(fit.ends, path);
  }
  out.contour = contour_of(strip, path);
  out.edge = std::move(fit.stations);
  out.strip = fit.model;
  return out;
}

/// Why a plate cannot be traced; empty where it can.
std::string obstacle(const Scene& scene, const PlateCandidate& plate) {
  const Corners c = corners_of(scene, plate);
  for (int k = 0; k < 2; ++k) {
    for (const Point2& p : {c.rear[k], c.front[k]}) {
      if (!inside(scene.photo.bgr, p.x(), p.y(), 20)) return "it leaves the picture: shift the camera or the chain";
    }
  }
  if (plate.rival > kNearRival * plate.score) {
    const Point2 at = scene.pose.view.at_height(c.middle, kUsualHeightMm);
    const BoardBox field = scene.pose.field();
    if ((at - field.min).minCoeff() < 0 || (field.max - at).minCoeff() < 0) {
      return "it stands before the card's squares: shift the chain to bring it over the plain field";
    }
    return "another outline fits it almost as well: tuck a slip of paper under the edge, or light the plate evenly";
  }
  return {};
}

/// Why what was traced tells no plate; empty where it does.
std::string untold(const PlateOutline& plate) {
  // An edge may lose half of itself to a chip and to metal of its own look. What is borne out by less may as well be a
  // mark on the plate whose edge lies elsewhere.
  constexpr double kLeastSeenShare = 0.4;
  const auto seen =
      std::count_if(plate.contour.begin(), plate.contour.end(), [](const ContourPoint& p) { return p.seen; });
  if (static_cast<double>(seen) >= kLeastSeenShare * static_cast<double>(plate.contour.size())) return {};
  return "most of its edge looks like what lies beneath: tuck a slip of paper under it, and bring the whole cutter over "
         "the plain field";
}

}  // namespace

Result<PlanOutlines> trace_plan(const Photo& photo, const CardPose& pose) {
  const Result<PlanBand> band = find_band(photo, pose, kUsualHeightMm);
  if (!band.ok()) return band.error();
  const FoundPlates found = find_plates(*band);
  const Scene scene{photo, pose, *band, paper_white(photo, pose)};
  PlanOutlines out;
  for (const PlateCandidate& plate : found.plates) {
    std::string why = obstacle(scene, plate);
    if (why.empty()) {
      PlateOutline outline = trace_plate(scene, plate);
      why = untold(outline);
      if (why.empty()) out.plates.push_back(std::move(outline));
    }
    if (!why.empty()) out.left_out.push_back({corners_of(scene, plate).front[0], why});
  }
  if (out.plates.empty() && out.left_out.empty()) {
    return Error{Fault::kNoCutter,
                 "no top plate seen in the card's field: let the top plates stand out of the slot, near the middle of "
                 "the picture",
                 {}};
  }
  if (out.plates.empty()) {
    return Error{Fault::kNotMeasurable, "the only top plate cannot be measured: " + out.left_out[0].why, {}};
  }
  const auto soft = [](const PlateOutline& p) { return p.strip.blur_px > kMostBlurPx; };
  if (std::all_of(out.plates.begin(), out.plates.end(), soft)) {
    return Error{Fault::kBlurred, "the cutting edge is out of focus: focus on the top plate, not on the card", {}};
  }
  for (const Point2& sample : found.links) out.links_px.push_back(scene.px(sample));
  return out;
}

}  // namespace glintline
