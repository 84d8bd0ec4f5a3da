#include "trace/plan_trace.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <optional>

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
    return pose.view.pixel(band.frame.board(sample.x(), sample.y()));
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

/// How far a sight line that passes a plate's outer side goes on inwards under it, for each mm that it falls.
double looks_under(const CameraView& view, const OuterSide& side) {
  const Point2 px = (side.rear + side.front) / 2;
  const Point2 at = view.at_height(px, kUsualHeightMm);
  const Point2 inwards = (view.at_height(px + 20 * side.inwards, kUsualHeightMm) - at).normalized();
  return (view.at_height(px, kUsualHeightMm - 1) - at).dot(inwards);
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

/// One look at a plate, up to its edge's outline.
struct PlateLook {
  Corners corners;
  double px_per_mm = 0;
  SideTrace rear;
  SideTrace outer;
  SideTrace inner;
  Line2 outer_line;
  EdgeLight light;
  EdgeStrip strip;
  EdgePath path;
};

/// `light`: what an earlier look took of the edge's surroundings.
PlateLook look_at(const Scene& scene, const PlateCandidate& plate, const EdgeLight& light = {}) {
  PlateLook look;
  look.corners = corners_of(scene, plate);
  const Corners& c = look.corners;
  look.px_per_mm = 1 / scene.pose.view.mm_per_px(c.middle, kUsualHeightMm);
  const cv::Mat& bgr = scene.photo.bgr;
  const auto side = [&](const Point2& from, const Point2& to) {
    SideSearch search = search_of(from, to, c.middle, look.px_per_mm);
    search.flash = kFlashShare * scene.paper;
    return search;
  };
  SideSearch rear_search = side(c.rear[0], c.rear[1]);
  rear_search.clear_share = kRearShare;
  rear_search.rounded_rim = true;
  look.rear = trace_side(bgr, rear_search);
  // Round a corner's bend the coarse side may lie inside the outline by more than the usual reach.
  constexpr std::size_t kLeastSidePoints = 6;
  SideSearch outer_search = side(c.rear[0], c.front[0]);
  look.outer = trace_side(bgr, outer_search);
  if (look.outer.points_px.size() < kLeastSidePoints) {
    outer_search.reach_px *= 2;
    look.outer = trace_side(bgr, outer_search);
  }
  look.inner = trace_side(bgr, side(c.rear[1], c.front[1]));
  look.outer_line = line_of(look.outer, c.rear[0], c.front[0]);
  const Line2 inner_line = line_of(look.inner, c.rear[1], c.front[1]);
  EdgeFrame frame = frame_of(c, look.outer_line, inner_line);
  const OuterSide outer = outer_side(c, look.outer_line, frame.corner_px, look.px_per_mm);
  // Leaning by less no camera sees as much of the side plate's face as passes for a strip of the top.
  constexpr double kLeastLean = 0.08;
  const double face_mm = looks_under(scene.pose.view, outer) > kLeastLean ? side_face_width(bgr, outer) : 0;
  if (face_mm > 0) {
    constexpr double kReachMm = 0.12;
    const Point2 moved = face_mm * look.px_per_mm * outer.inwards;
    SideSearch own = side(outer.rear + moved, outer.front + moved);
    own.reach_px = kReachMm * look.px_per_mm;
    look.outer = trace_side(bgr, own);
    look.outer_line = line_of(look.outer, own.from, own.to);
    frame = frame_of(c, look.outer_line, inner_line);
  }
  const double behind_px = kBehindMm * look.px_per_mm;
  const double beyond_px = kBeyondMm * look.px_per_mm;
  look.light = light;
  if (!light.holds(bgr.size(), frame, behind_px, beyond_px)) {
    const Sharpening sharpening = sharpening_of(scene.pose.blur_px, scene.pose.overshoot);
    look.light = light_about(bgr, sharpening, frame, behind_px, beyond_px);
  }
  look.strip = sample_edge(look.light, frame, behind_px, beyond_px);
  look.path = find_outline(look.strip, look.px_per_mm);
  return look;
}

/// All lines of a look, its outline sharpened and moved to the ends of its strips, fitted every `station_mm`.
PlateLines lines_of(const Scene& scene, PlateLook& look, const std::vector<StripEnd>& ends, const StripModel& model,
                    double station_mm) {
  sharpen_path(look.strip, look.px_per_mm, look.path);
  if (model.mirror_told) {
    move_to_strips(ends, static_cast<int>(2 * station_mm * look.px_per_mm / look.strip.step_s), look.path);
  } else {
    move_to_flash(look.strip, ends, look.path);
  }
  const Point2& corner_px = look.strip.frame.corner_px;
  const OuterSide outer = outer_side(look.corners, look.outer_line, corner_px, look.px_per_mm);
  return {look.rear.points_px,
          look.rear.half_range_px,
          look.rear.rim_seen,
          look.outer.points_px,
          look.inner.points_px,
          shoulder_change(scene.photo.bgr, outer),
          corner_px,
          contour_of(look.strip, look.path)};
}

/// A plate that was traced, and what looking again needs of it.
struct TracedPlate {
  PlateCandidate plate;
  PlateLook look;
  std::vector<StripEnd> ends;
  double station_mm = 0;
  PlateOutline outline;
};

TracedPlate trace_plate(const Scene& scene, const PlateCandidate& plate) {
  TracedPlate traced{plate, look_at(scene, plate), {}, 0, {}};
  PlateLook& look = traced.look;
  RoundingTask task;
  task.px_per_mm = look.px_per_mm;
  task.model = strip_model(scene.pose, in_space(scene, look.strip.frame), flashes(look.path, scene.paper));
  task.colour_blur_px = colour_blur(scene.photo.colour_step, look.strip.frame);
  task.model.mirror_told = over_slip(look.path, scene.band.colour);
  RoundingFit fit = fit_rounding(look.strip, look.path, task);
  PlateOutline& out = traced.outline;
  static_cast<PlateLines&>(out) = lines_of(scene, look, fit.ends, fit.model, task.station_mm);
  out.rear_in_doubt = plate.rear_rival > kNearRival * plate.score;
  out.edge = std::move(fit.stations);
  out.strip = fit.model;
  traced.ends = std::move(fit.ends);
  traced.station_mm = task.station_mm;
  return traced;
}

/// The ends of another look's strips in this one's rows.
std::vector<StripEnd> ends_in(const EdgeStrip& strip, const EdgeStrip& other, const std::vector<StripEnd>& ends) {
  std::vector<StripEnd> out;
  for (const StripEnd& end : ends) {
    const Point2 px = other.frame.px(other.s(end.row), end.n_px);
    const int row = static_cast<int>(std::lround((strip.frame.s(px) - strip.first_s) / strip.step_s));
    if (row < 0 || row >= strip.linear.rows || (!out.empty() && row <= out.back().row)) continue;
    out.push_back({row, strip.frame.n(px)});
  }
  return out;
}

/// The same plate's outline alone, with the strips of the first look: to fit them takes most of the time.
PlateLines trace_lines(const Scene& scene, const PlateCandidate& plate, const TracedPlate& first) {
  PlateLook look = look_at(scene, plate, first.look.light);
  const std::vector<StripEnd> ends = ends_in(look.strip, first.look.strip, first.ends);
  return lines_of(scene, look, ends, first.outline.strip, first.station_mm);
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
  // An edge may lose more than half of itself to a chip and to metal of its own look. What is borne out by less may as
  // well be a mark on the plate whose edge lies elsewhere (by experiment: of 214 plates, two that were none showed 0
  // and 17 %, no other less than 37).
  constexpr double kLeastSeenShare = 0.33;
  const auto seen =
      std::count_if(plate.contour.begin(), plate.contour.end(), [](const ContourPoint& p) { return p.seen; });
  if (static_cast<double>(seen) >= kLeastSeenShare * static_cast<double>(plate.contour.size())) return {};
  return "most of its edge looks like what lies beneath: tuck a slip of paper under it, and bring the whole cutter over "
         "the plain field";
}

/// The plate that another look takes for the same one: it runs the same way and lies in the same place. fails (null):
/// none does.
const PlateCandidate* same_plate(const Scene& again, const FoundPlates& found, const TracedPlate& traced) {
  constexpr double kSameMm = 1.5;
  const Point2& middle = traced.look.corners.middle;
  const double reach = kSameMm / again.pose.view.mm_per_px(middle, kUsualHeightMm);
  const auto same = std::ranges::find_if(found.plates, [&](const PlateCandidate& p) {
    return p.runs_forward() == traced.plate.runs_forward() && (corners_of(again, p).middle - middle).norm() < reach;
  });
  return same == found.plates.end() ? nullptr : &*same;
}

/// Finds a plate again in its neighbourhood, between the first look's samples, and follows its outline. fails
/// (nothing): no such plate is found there.
std::optional<PlateLines> looked_again(const Scene& scene, const TracedPlate& traced, const Point2& shift) {
  constexpr double kAroundMm = 6;  // room for whatever else may look like its edge or its rear end
  const auto [low, high] = traced.plate.columns();
  const double around = kAroundMm / scene.band.frame.mm_per_px;
  const PlanBand band = part_of_band(scene.photo, scene.pose, scene.band, static_cast<int>(low - around),
                                     static_cast<int>(high + around), shift);
  const Scene again{scene.photo, scene.pose, band, scene.paper};
  const FoundPlates found = find_plates(band);
  const PlateCandidate* plate = same_plate(again, found, traced);
  if (!plate || !obstacle(again, *plate).empty()) return std::nullopt;
  return trace_lines(again, *plate, traced);
}

/// Looks at traced plates again.
void look_again(const Scene& scene, std::vector<TracedPlate>& traced) {
  constexpr int kAgain = 2;
  // What the band's samples are moved by.
  static const std::array<Point2, kAgain> kShifts = {Point2(-0.5, -0.5), Point2(-0.25, -0.75)};
  std::array<std::vector<std::optional<PlateLines>>, kAgain> seen;
  cv::parallel_for_({0, kAgain}, [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) {
      for (const TracedPlate& t : traced) seen[k].push_back(looked_again(scene, t, kShifts[k]));
    }
  });
  for (auto& look : seen) {
    for (std::size_t i = 0; i < look.size(); ++i) {
      if (look[i]) traced[i].outline.again.push_back(std::move(*look[i]));
    }
  }
}

}  // namespace

Result<PlanOutlines> trace_plan(const Photo& photo, const CardPose& pose) {
  const Result<PlanBand> band = find_band(photo, pose, kUsualHeightMm);
  if (!band.ok()) return band.error();
  const FoundPlates found = find_plates(*band);
  const Scene scene{photo, pose, *band, paper_white(photo, pose)};
  PlanOutlines out;
  std::vector<TracedPlate> traced;
  for (const PlateCandidate& plate : found.plates) {
    std::string why = obstacle(scene, plate);
    if (why.empty()) {
      TracedPlate seen = trace_plate(scene, plate);
      why = untold(seen.outline);
      if (why.empty()) traced.push_back(std::move(seen));
    }
    if (!why.empty()) out.left_out.push_back({corners_of(scene, plate).front[0], why});
  }
  look_again(scene, traced);
  for (TracedPlate& t : traced) out.plates.push_back(std::move(t.outline));
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
