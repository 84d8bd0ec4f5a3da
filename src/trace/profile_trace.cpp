#include "trace/profile_trace.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/text.h"
#include "math/statistics.h"
#include "trace/block_means.h"
#include "trace/cutter_search.h"
#include "trace/cutter_trace.h"
#include "trace/face_decision.h"
#include "trace/field_colour.h"
#include "trace/plane_picture.h"
#include "trace/rivets.h"

namespace glintline {

namespace {

/// Scale of the picture in which rivets and cutters are searched: a rivet head is then about 30 pixels wide.
constexpr double kSearchMmPerPx = 0.15;
/// How far beyond the board the chain is looked for.
constexpr double kBeyondMm = 12;

/// The board and its surroundings, square on, at the search's scale.
struct Overview {
  cv::Mat bgr;
  cv::Mat grey;
  PlaneFrame frame;

  [[nodiscard]] Point2 board(const Point2& p) const { return frame.board(p.x(), p.y()).head<2>(); }
  [[nodiscard]] Point2 pixel(const Point2& board_mm) const { return frame.shown(board_mm); }
};

Overview overview(const Photo& photo, const CardPose& pose, double height_mm) {
  const BoardBox board = pose.board();
  const Point2 middle = 0.5 * (board.min + board.max);
  const double native = pose.view.mm_per_px(pose.view.pixel({middle.x(), middle.y(), 0}), height_mm);
  const int reduction = std::max(1, static_cast<int>(kSearchMmPerPx / native));
  const cv::Mat reduced = block_means(photo.bgr, reduction);
  Overview o;
  o.frame.height_mm = height_mm;
  o.frame.mm_per_px = kSearchMmPerPx;
  o.frame.origin_mm = board.min - Point2(kBeyondMm, kBeyondMm);
  const Point2 size = (board.max - board.min + 2 * Point2(kBeyondMm, kBeyondMm)) / kSearchMmPerPx;
  o.frame.size = {static_cast<int>(size.x()), static_cast<int>(size.y())};
  o.bgr = picture_of_plane(reduced, pose.view, o.frame, reduction);
  cv::cvtColor(o.bgr, o.grey, cv::COLOR_BGR2GRAY);
  return o;
}

/// The field's rectangle in the overview: its outline on the card, seen at the overview's height, as a box.
cv::Rect field_in(const Overview& o, const CardPose& pose) {
  const BoardBox box = pose.field();
  const auto seen = [&](const Point2& corner) {
    return o.pixel(pose.view.at_height(pose.view.pixel({corner.x(), corner.y(), 0}), o.frame.height_mm));
  };
  const Point2 a = seen(box.min);
  const Point2 b = seen(box.max);
  const cv::Rect rect(cvCeil(a.x()) + 1, cvCeil(a.y()) + 1, cvFloor(b.x() - a.x()) - 2, cvFloor(b.y() - a.y()) - 2);
  return rect & cv::Rect({}, o.bgr.size());
}

cv::Mat solid_in(const Overview& o, const cv::Rect& field, const FieldColour& colour) {
  cv::Mat solid(o.bgr.size(), CV_8U, cv::Scalar(128));
  for (int y = field.y; y < field.br().y; ++y) {
    const auto* row = o.bgr.ptr<cv::Vec3b>(y);
    auto* out = solid.ptr<uchar>(y);
    for (int x = field.x; x < field.br().x; ++x) out[x] = colour.differs(row[x]) ? 255 : 0;
  }
  return solid;
}

/// The row with every head looked at closely; heads that cannot be confirmed are left out.
struct ConfirmedRow {
  RivetRow row;                        ///< overview pixels
  std::vector<RivetOutline> outlines;  ///< the same heads, in the photograph
};

ConfirmedRow confirmed(const Photo& photo, const CardPose& pose, const Overview& o, const RivetRow& row) {
  std::vector<RivetSearch> searches;
  for (const Point2& centre : row.centres) {
    const RivetSearch search{o.board(centre), o.frame.height_mm};
    const Point2 px = pose.view.pixel({search.near_mm.x(), search.near_mm.y(), -search.height_mm});
    if (px.x() >= 0 && px.y() >= 0 && px.x() < photo.bgr.cols && px.y() < photo.bgr.rows) searches.push_back(search);
  }
  ConfirmedRow result;
  result.row.spacing = row.spacing;
  for (auto& outline : refine_rivets(photo.bgr, pose.view, searches)) {
    if (!outline) continue;
    result.row.centres.push_back(o.pixel(pose.view.at_height(outline->centre_px, o.frame.height_mm)));
    result.outlines.push_back(std::move(*outline));
  }
  return result;
}

/// True where two rivets or more, at either end, lie beyond the field: a cutter may sit there.
bool reaches_beyond(const RivetRow& row, const cv::Rect& field) {
  int beyond = 0;
  for (const Point2& c : row.centres) beyond += field.contains({cvRound(c.x()), cvRound(c.y())}) ? 0 : 1;
  return beyond >= 2;
}

/// The same places with the chain running the other way.
CutterPattern turned_round(CutterPattern pattern) {
  pattern.runs_back = !pattern.runs_back;
  for (CutterPlace& place : pattern.places) std::swap(place.rear, place.front);
  std::reverse(pattern.places.begin(), pattern.places.end());
  return pattern;
}

/// True where a point of the photograph lies over the field, a little inside its border.
bool over_field(const EdgePoint& e, const CardPose& pose) {
  constexpr double kBorderMm = 0.4;
  const BoardBox box = pose.field();
  const Point2 p = pose.view.at_height(e.px, 0);
  return p.x() > box.min.x() + kBorderMm && p.x() < box.max.x() - kBorderMm && p.y() > box.min.y() + kBorderMm &&
         p.y() < box.max.y() - kBorderMm;
}

/// Leaves out what lies over the squares or along their border, where nothing tells steel from print.
/// out: false where that was most of the top: tangs that reach over the border look like a plate and a gauge.
bool keep_over_field(CutterLines& lines, const CardPose& pose) {
  const auto outside = [&](const EdgePoint& e) { return !over_field(e, pose); };
  const std::size_t top = lines.top.size();
  for (auto* part : {&lines.top, &lines.top_bare, &lines.gauge, &lines.front, &lines.rear})
    std::erase_if(*part, outside);
  return 2 * lines.top.size() > top;
}

/// The cutters where a pattern says they are.
struct Traced {
  bool runs_back = false;
  std::vector<CutterOutline> cutters;
  std::vector<int> steps;     ///< place of each in the row
  std::optional<Error> last;  ///< of those that could not be traced

  [[nodiscard]] bool all_hidden() const {
    return std::ranges::none_of(cutters, [](const CutterOutline& cutter) { return !cutter.hidden; });
  }
};

/// About where a cutter's working corner is, half worn (by experience).
Point3 about_corner(const CutterFrame& cutter) {
  const Point2 along = cutter.front_rivet_mm - cutter.rear_rivet_mm;
  const Point2 at = cutter.rear_rivet_mm + 0.35 * along + 0.8 * along.norm() * cutter.up;
  return {at.x(), at.y(), -cutter.height_mm};
}

Traced traced_as(const Photo& photo, const CardPose& pose, const FieldColour& colour, const ConfirmedRow& heads,
                 const CutterPattern& pattern, double height_mm) {
  Traced traced{pattern.runs_back, {}, {}, {}};
  for (const CutterPlace& place : pattern.places) {
    CutterFrame frame;
    frame.height_mm = height_mm;
    frame.rear_rivet_mm = pose.view.at_height(heads.outlines[place.rear].centre_px, height_mm);
    frame.front_rivet_mm = pose.view.at_height(heads.outlines[place.front].centre_px, height_mm);
    const Point2 down = turned_quarter((frame.front_rivet_mm - frame.rear_rivet_mm).normalized());
    frame.up = pattern.up_is_left == pattern.runs_back ? down : Point2(-down);
    auto cutter = trace_cutter(photo.bgr, pose, colour, frame);
    CutterOutline outline;
    if (cutter.ok()) {
      outline = std::move(cutter).value();
      if (!keep_over_field(outline, pose)) continue;
      for (CutterLines& lines : outline.again) {
        if (!keep_over_field(lines, pose)) lines = {};
      }
    } else {
      traced.last = cutter.error();
      outline.hidden = {pose.view.pixel(about_corner(frame)), cutter.error().what};
    }
    outline.rear_rivet = heads.outlines[place.rear];
    outline.front_rivet = heads.outlines[place.front];
    traced.cutters.push_back(std::move(outline));
    traced.steps.push_back(place.rear);
  }
  return traced;
}

Traced traced_either_way(const Photo& photo, const CardPose& pose, const FieldColour& colour, const ConfirmedRow& heads,
                         const CutterPattern& pattern, double height_mm) {
  Traced traced = traced_as(photo, pose, colour, heads, pattern, height_mm);
  // Sawdust on a gauge, or a bevel lost in the field, can make the silhouette look the other way round.
  if (traced.all_hidden()) traced = traced_as(photo, pose, colour, heads, turned_round(pattern), height_mm);
  return traced;
}

/// The longest top that was followed, pixels.
double longest_top(const Traced& traced) {
  double longest = 0;
  for (const CutterOutline& cutter : traced.cutters) longest = std::max(longest, length_px(cutter.top));
  return longest;
}

Error no_cutter(const std::string& seen) {
  return {
      Fault::kNoCutter, seen + ": lay the chain flat on the card so that a whole cutter lies over the plain field", {}};
}

}  // namespace

Result<ProfileOutlines> trace_profile(const Photo& photo, const CardPose& pose, double height_mm) {
  const Overview o = overview(photo, pose, height_mm);
  const cv::Rect field = field_in(o, pose);
  const auto colour = learn_field_colour(o.bgr(field));
  if (!colour) {
    return Error{Fault::kWrongCard,
                 "the card's middle field shows no strong colour: print the field in colour, or lay "
                 "coloured paper behind a cut-out",
                 {}};
  }
  const RivetRow row = find_rivet_row(o.grey, o.frame.mm_per_px);
  const cv::Mat solid = solid_in(o, field, *colour);
  if (!may_hold_cutters(solid, row)) {
    return no_cutter(row.centres.size() < 2 ? "no row of rivet heads seen"
                                            : "rivet heads but no whole cutter over the field");
  }
  ConfirmedRow heads = confirmed(photo, pose, o, row);
  if (heads.outlines.size() < 2) return no_cutter("no row of rivet heads seen");
  const std::vector<CutterPattern> patterns = find_cutters(solid, heads.row);
  if (patterns.empty()) {
    return no_cutter(counted(static_cast<int>(heads.outlines.size()), "rivet head") +
                     " but no whole cutter over the field");
  }
  // Where either side of the chain may be the one with the tops, the drive links' tangs are the shorter tops.
  Traced traced = traced_either_way(photo, pose, *colour, heads, patterns.front(), height_mm);
  for (std::size_t i = 1; i < patterns.size(); ++i) {
    Traced other = traced_either_way(photo, pose, *colour, heads, patterns[i], height_mm);
    if (longest_top(other) > longest_top(traced)) traced = std::move(other);
  }
  if (traced.all_hidden()) return traced.last.value_or(no_cutter("no whole cutter seen"));

  ProfileOutlines out;
  out.rivets = std::move(heads.outlines);
  out.goes_on_over_squares = reaches_beyond(heads.row, field);
  out.cutters = std::move(traced.cutters);
  if (traced.runs_back) std::reverse(out.rivets.begin(), out.rivets.end());
  decide_faces(out.cutters, traced.steps);
  return out;
}

}  // namespace glintline
