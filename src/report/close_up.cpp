#include "report/close_up.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "base/text.h"
#include "report/edge_strip_chart.h"
#include "report/label_layout.h"
#include "report/palette.h"
#include "report/words.h"

namespace glintline {
namespace {

/// Room around the marks for labels, as a share of their extent: from the side above the cutter, where the field is
/// free; from above beside it, ahead of the edge.
struct Room {
  double side;
  double top;
  double bottom;
};
constexpr Room kProfileRoom{0.16, 0.38, 0.10};
constexpr Room kPlanRoom{0.34, 0.34, 0.18};
constexpr Room room_of(ViewKind view) { return view == ViewKind::kProfile ? kProfileRoom : kPlanRoom; }
/// The chart of an edge takes this share of its close-up's height.
constexpr double kChartShare = 0.24;
/// Beyond this a photograph shows its pixels, not more of the cutter.
constexpr double kLargestScale = 2.5;

constexpr double kLabelSize_px = 25;
constexpr Rgb kNoPicture{0.17, 0.17, 0.16};

const Mark* first_mark(const CutterMeasurement& cutter, MarkRole role, std::size_t least_points) {
  for (const Mark& mark : cutter.marks) {
    if (mark.role == role && mark.points_px.size() >= least_points) return &mark;
  }
  return nullptr;
}

bool finite(const Point2& point) { return std::isfinite(point.x()) && std::isfinite(point.y()); }

std::vector<Point2> all_points(const CutterMeasurement& cutter) {
  std::vector<Point2> points;
  for (const Mark& mark : cutter.marks) {
    std::copy_if(mark.points_px.begin(), mark.points_px.end(), std::back_inserter(points), finite);
  }
  return points;
}

/// Rotation with rows (right, down): `down` is a unit vector in the photograph that shall point down.
Eigen::Matrix2d with_down(const Point2& down) {
  Eigen::Matrix2d turn;
  turn << down.y(), -down.x(), down.x(), down.y();
  return turn;
}

/// The photograph turned so that the cutter stands upright: by the rivet line where there is one, else by the length.
Eigen::Matrix2d upright_turn(const CutterMeasurement& cutter, ViewKind view) {
  const Mark* rivets = first_mark(cutter, MarkRole::kRivetLine, 2);
  const Mark* plate = first_mark(cutter, MarkRole::kTopPlate, 1);
  if (view == ViewKind::kProfile && rivets != nullptr && plate != nullptr) {
    const Point2 along = (rivets->points_px.back() - rivets->points_px.front()).normalized();
    Point2 down = turned_quarter(along);
    const Point2 to_plate = plate->points_px[plate->points_px.size() / 2] - rivets->points_px.front();
    if (down.dot(to_plate) > 0) down = -down;
    if (finite(down) && down.norm() > 0.5) return with_down(down);
  }
  if (const Mark* length = first_mark(cutter, MarkRole::kLength, 2)) {
    Point2 right = (length->points_px.back() - length->points_px.front()).normalized();
    if (right.x() < 0) right = -right;
    if (finite(right) && right.norm() > 0.5) return with_down(turned_quarter(right));
  }
  return Eigen::Matrix2d::Identity();
}

struct Extent {
  Point2 low = Point2::Constant(std::numeric_limits<double>::max());
  Point2 high = Point2::Constant(std::numeric_limits<double>::lowest());

  void take(const Point2& point) {
    low = low.cwiseMin(point);
    high = high.cwiseMax(point);
  }
  [[nodiscard]] Point2 size() const { return (high - low).cwiseMax(Point2::Constant(1)); }
};

Extent extent_of(const CutterMeasurement& cutter, const Eigen::Matrix2d& turn) {
  Extent extent;
  for (const Point2& point : all_points(cutter)) extent.take(turn * point);
  return extent;
}

double scale_into(const Point2& size, const Area& place, const Room& room) {
  const double across = place.width / (size.x() * (1 + 2 * room.side));
  const double down = place.height / (size.y() * (1 + room.top + room.bottom));
  return std::min({across, down, kLargestScale});
}

Similarity placed(const Extent& extent, const Eigen::Matrix2d& turn, double scale, const Area& place,
                  const Room& room) {
  const Point2 middle = (extent.low + extent.high) / 2;
  // What is left over in height is shared as the room is: more of it above.
  const double free = place.height - scale * extent.size().y();
  const Point2 target(place.x + place.width / 2,
                      place.y + free * room.top / (room.top + room.bottom) + scale * extent.size().y() / 2);
  return {scale * turn, target - scale * middle};
}

/// The photograph's part that the close-up shows, reduced by area first where it shrinks (a plain warp would alias).
cv::Mat close_up_picture(const cv::Mat& bgr, const CloseUp& close_up) {
  const cv::Size size(static_cast<int>(close_up.place.width), static_cast<int>(close_up.place.height));
  const Eigen::Matrix2d back = close_up.canvas_from_photo.turn_and_scale.inverse();
  Extent seen;
  for (const Point2& share : {Point2(0, 0), Point2(1, 0), Point2(0, 1), Point2(1, 1)}) {
    const Point2 on_canvas(close_up.place.x + share.x() * close_up.place.width,
                           close_up.place.y + share.y() * close_up.place.height);
    seen.take(back * (on_canvas - close_up.canvas_from_photo.shift));
  }
  const auto edge = [](double value) { return static_cast<int>(std::clamp(value, -1e6, 1e6)); };
  const cv::Rect region = cv::Rect(cv::Point(edge(std::floor(seen.low.x()) - 2), edge(std::floor(seen.low.y()) - 2)),
                                   cv::Point(edge(std::ceil(seen.high.x()) + 3), edge(std::ceil(seen.high.y()) + 3))) &
                          cv::Rect(0, 0, bgr.cols, bgr.rows);
  const cv::Scalar nothing(255 * kNoPicture.blue, 255 * kNoPicture.green, 255 * kNoPicture.red);
  if (region.empty()) return cv::Mat(size, CV_8UC3, nothing);

  cv::Mat part = bgr(region);
  const double scale = std::sqrt(std::abs(close_up.canvas_from_photo.turn_and_scale.determinant()));
  Point2 ratio(1, 1);
  if (scale < 0.75) {
    cv::Mat reduced;
    // The size is given, not the factor: with a factor OpenCV rounds the size but keeps the unrounded ratio.
    const auto shrunk = [scale](int length) { return std::max(1, static_cast<int>(std::lround(scale * length))); };
    cv::resize(part, reduced, cv::Size(shrunk(part.cols), shrunk(part.rows)), 0, 0, cv::INTER_AREA);
    ratio = {static_cast<double>(reduced.cols) / part.cols, static_cast<double>(reduced.rows) / part.rows};
    part = reduced;
  }
  // From the part's pixels (centres whole) to the close-up's: canvas corners whole, hence the last half pixel.
  const Eigen::Matrix2d turn = close_up.canvas_from_photo.turn_and_scale * ratio.cwiseInverse().asDiagonal();
  const Point2 first_centre = (Point2(0.5, 0.5).cwiseQuotient(ratio)) - Point2(0.5, 0.5) + Point2(region.x, region.y);
  const Point2 shift =
      close_up.canvas_from_photo(first_centre) - Point2(close_up.place.x + 0.5, close_up.place.y + 0.5);
  const cv::Matx23d warp(turn(0, 0), turn(0, 1), shift.x(), turn(1, 0), turn(1, 1), shift.y());
  cv::Mat picture;
  cv::warpAffine(part, picture, warp, size, scale > 1.2 ? cv::INTER_CUBIC : cv::INTER_LINEAR, cv::BORDER_CONSTANT,
                 nothing);
  return picture;
}

/// Draws one close-up's marks and labels.
class Annotator {
 public:
  Annotator(PixelCanvas& canvas, const CloseUp& close_up)
      : canvas_(canvas),
        place_(close_up.place),
        cutter_(close_up.cutter->measured),
        map_(close_up.canvas_from_photo),
        layout_(static_cast<int>(place_.width), static_cast<int>(place_.height)) {}

  void draw() {
    reserve();
    for (const Mark& mark : cutter_.marks) draw_outline(mark);
    for (const Mark& mark : cutter_.marks) draw_figure(mark);
    for (const Label& label : labels_) draw_label(label);
  }

 private:
  struct Label {
    std::string text;
    Point2 anchor;
  };

  [[nodiscard]] std::vector<Point2> mapped(const Mark& mark) const {
    std::vector<Point2> points;
    for (const Point2& point : mark.points_px) {
      if (finite(point)) points.push_back(map_(point));
    }
    return points;
  }

  [[nodiscard]] Point2 in_place(const Point2& on_canvas) const { return on_canvas - Point2(place_.x, place_.y); }

  void keep_free(const std::vector<Point2>& line, double margin_px) {
    std::vector<Point2> points;
    for (const Point2& point : line) points.push_back(in_place(point));
    layout_.keep_free(points, margin_px);
  }

  /// The steel that was measured stays uncovered.
  void reserve() {
    std::vector<Point2> hull;
    for (const Point2& point : all_points(cutter_)) hull.push_back(in_place(map_(point)));
    layout_.keep_hull_free(hull);
    for (const Mark& mark : cutter_.marks) keep_free(mapped(mark), 8);
  }

  void draw_outline(const Mark& mark) {
    const std::vector<Point2> points = mapped(mark);
    switch (mark.role) {
      case MarkRole::kRivetLine:
        return draw_rivet_line(points);
      case MarkRole::kRivet:
      case MarkRole::kChip:
        return canvas_.line_with_halo(points, stroke_of(mark.role), true);
      case MarkRole::kTopPlate:
      case MarkRole::kGauge:
      case MarkRole::kHook:
      case MarkRole::kEdgeLine:
        return canvas_.line_with_halo(points, stroke_of(mark.role));
      case MarkRole::kEdge:
        return draw_edge(mark);
      default:
        return;
    }
  }

  void draw_figure(const Mark& mark) {
    const std::vector<Point2> points = mapped(mark);
    if (mark.role == MarkRole::kDrop && points.size() >= 2) draw_drop(points[0], points[1], mark.label);
    if (mark.role == MarkRole::kLength && points.size() >= 2) draw_length(points.front(), points.back(), mark.label);
    if (mark.role == MarkRole::kCorner && !points.empty()) canvas_.ring(points[0], 9, stroke_of(mark.role));
    if (mark.role == MarkRole::kChip) label_chip(points, mark.label);
    if (mark.role == MarkRole::kEdgeLine && points.size() >= 2) draw_angle(points);
  }

  void draw_rivet_line(const std::vector<Point2>& points) {
    if (points.size() < 2) return;
    const Point2 beyond = (points.back() - points.front()) * 0.25;
    canvas_.line_with_halo({points.front() - beyond, points.back() + beyond}, stroke_of(MarkRole::kRivetLine));
  }

  /// The edge, pushed out in front of the steel so that it can still be seen, thicker and redder where rounder.
  void draw_edge(const Mark& mark) {
    const std::vector<Point2> points = mapped(mark);
    if (points.size() < 2) return;
    if (mark.values.size() != mark.points_px.size() || points.size() != mark.points_px.size()) {
      return canvas_.line_with_halo(points, stroke_of(MarkRole::kEdge));
    }
    const Point2 out = outwards(points) * 14;
    std::vector<Point2> shifted;
    for (const Point2& point : points) shifted.push_back(point + out);
    // The dark ground first, all of it, so that no piece covers the end of the one before.
    for (const bool ground : {true, false}) {
      for (std::size_t i = 1; i < points.size(); ++i) {
        const double radius = (mark.values[i - 1] + mark.values[i]) / 2;
        const double width = std::isfinite(radius) ? std::clamp(2.5 + 0.12 * radius, 2.5, 10.0) : 1.5;
        const Stroke stroke = ground ? Stroke{kNight, width + 3} : Stroke{colour_of_radius(radius), width};
        canvas_.line({shifted[i - 1], shifted[i]}, stroke);
      }
    }
    keep_free(shifted, 10);
  }

  /// Unit vector square to the edge, away from the cutter's other marks.
  [[nodiscard]] Point2 outwards(const std::vector<Point2>& edge) const {
    Point2 middle = Point2::Zero();
    const std::vector<Point2> all = all_points(cutter_);
    for (const Point2& point : all) middle += map_(point) / static_cast<double>(all.size());
    Point2 out = turned_quarter((edge.back() - edge.front()).normalized());
    if (out.dot(edge[edge.size() / 2] - middle) < 0) out = -out;
    return finite(out) ? out : Point2(0, -1);
  }

  /// Two level lines, square to "down" in the close-up and so parallel to the rivet line, and the step between them.
  void draw_drop(const Point2& top, const Point2& gauge, const std::string& label) {
    const Stroke level = stroke_of(MarkRole::kDrop);
    const std::optional<Point2> plate = plate_end_near(gauge);
    const Point2 from(plate ? plate->x() : top.x(), top.y());
    const double ahead = gauge.x() >= from.x() ? 1 : -1;
    const double limit = ahead > 0 ? place_.x + place_.width - 14 : place_.x + 14;
    const double reach = ahead * std::min(ahead * (gauge.x() + ahead * 80), ahead * limit);
    const double arrow_x = ahead * std::min(ahead * (gauge.x() + ahead * 55), ahead * limit - 12);
    canvas_.line_with_halo({from, {reach, top.y()}}, level);
    canvas_.line_with_halo({gauge, {reach, gauge.y()}}, level);
    draw_step({arrow_x, top.y()}, {arrow_x, gauge.y()}, level.colour);
    keep_free({from, {reach, top.y()}}, 6);
    keep_free({gauge, {reach, gauge.y()}}, 6);
    keep_free({{arrow_x, top.y() - 42}, {arrow_x, gauge.y() + 42}}, 10);
    const std::string value = cutter_.gauge_drop_mm ? with_u95(*cutter_.gauge_drop_mm, 2, " ± ") + " mm" : "";
    labels_.push_back({value.empty() ? label : "drop " + value, {arrow_x, std::min(top.y(), gauge.y()) - 40}});
  }

  /// The end of the traced top plate that lies nearest to the gauge.
  [[nodiscard]] std::optional<Point2> plate_end_near(const Point2& gauge) const {
    std::optional<Point2> nearest;
    for (const Mark& mark : cutter_.marks) {
      if (mark.role != MarkRole::kTopPlate) continue;
      for (const Point2& point : mapped(mark)) {
        if (!nearest || std::abs(point.x() - gauge.x()) < std::abs(nearest->x() - gauge.x())) nearest = point;
      }
    }
    return nearest;
  }

  /// A wide step has its arrows inside, a narrow one has them pointing at it from outside.
  void draw_step(const Point2& one, const Point2& other, Rgb colour) {
    constexpr double kHead = 15;
    const Point2& upper = one.y() < other.y() ? one : other;
    const Point2& lower = one.y() < other.y() ? other : one;
    const Stroke shaft{colour, 2.4};
    if (lower.y() - upper.y() > 3 * kHead) {
      canvas_.line_with_halo({upper + Point2(0, kHead), lower - Point2(0, kHead)}, shaft);
      canvas_.arrow_head(upper, {0, -1}, kHead, colour);
      canvas_.arrow_head(lower, {0, 1}, kHead, colour);
      return;
    }
    canvas_.line_with_halo({upper - Point2(0, 2.4 * kHead), upper - Point2(0, kHead)}, shaft);
    canvas_.line_with_halo({lower + Point2(0, kHead), lower + Point2(0, 2.4 * kHead)}, shaft);
    canvas_.arrow_head(upper, {0, 1}, kHead, colour);
    canvas_.arrow_head(lower, {0, -1}, kHead, colour);
  }

  /// A level bar over the cutter, with a thin line down to either end of the length.
  void draw_length(const Point2& rear, const Point2& corner, const std::string& label) {
    const Stroke bar = stroke_of(MarkRole::kLength);
    double highest = std::min(rear.y(), corner.y());
    for (const Mark& mark : cutter_.marks) {
      if (mark.role != MarkRole::kTopPlate && mark.role != MarkRole::kEdge) continue;
      for (const Point2& point : mapped(mark)) highest = std::min(highest, point.y());
    }
    const double y = std::max(highest - 36, place_.y + 24);
    const Point2 left(std::min(rear.x(), corner.x()), y);
    const Point2 right(std::max(rear.x(), corner.x()), y);
    for (const Point2& end : {rear, corner}) canvas_.line_with_halo({{end.x(), y - 9}, end}, {bar.colour, 1.4});
    canvas_.line_with_halo({left, right}, bar);
    canvas_.arrow_head(left, {-1, 0}, 15, bar.colour);
    canvas_.arrow_head(right, {1, 0}, 15, bar.colour);
    keep_free({left, right}, 8);
    for (const Point2& end : {rear, corner}) keep_free({{end.x(), y}, end}, 5);
    const std::string value = cutter_.length_mm ? with_u95(*cutter_.length_mm, 2, " ± ") + " mm" : "";
    labels_.push_back({value.empty() ? label : "length " + value, {(left.x() + right.x()) / 2, y}});
  }

  void draw_angle(const std::vector<Point2>& line) {
    if (!cutter_.edge_angle_rad) return;
    const Point2 middle = (line.front() + line.back()) / 2;
    const std::string value = with_u95(in_degrees(*cutter_.edge_angle_rad), 1, " ± ") + "°";
    labels_.push_back({"edge angle " + value, middle + outwards(line) * 24});
  }

  void label_chip(const std::vector<Point2>& outline, const std::string& label) {
    if (outline.empty()) return;
    Point2 middle = Point2::Zero();
    for (const Point2& point : outline) middle += point / static_cast<double>(outline.size());
    labels_.push_back({label.find("chip") == std::string::npos ? "chip " + label : with_sign(label), middle});
  }

  void draw_label(const Label& label) {
    if (label.text.empty()) return;
    const Lettering style{kLabelSize_px, kPlainWhite, true};
    const double width = text_width(label.text, style) + 20;
    const double height = kLabelSize_px + 14;
    // Where there is no room the value still stands under the close-up.
    const std::optional<Area> spot = layout_.place(in_place(label.anchor), width, height);
    if (!spot) return;
    const Area box{spot->x + place_.x, spot->y + place_.y, width, height};
    const Point2 nearest(std::clamp(label.anchor.x(), box.x, box.x + box.width),
                         std::clamp(label.anchor.y(), box.y, box.y + box.height));
    canvas_.line_with_halo({label.anchor, nearest}, {kPlainWhite, 1.6});
    canvas_.fill(box, kNight, 0.88);
    canvas_.text_centred(label.text, {box.x + width / 2, box.y + height / 2}, style);
  }

  PixelCanvas& canvas_;
  const Area place_;
  const CutterMeasurement& cutter_;
  const Similarity map_;
  LabelLayout layout_;
  std::vector<Label> labels_;
};

}  // namespace

std::vector<const InspectedCutter*> shown_cutters(const Inspection& inspection) {
  std::vector<const InspectedCutter*> shown;
  for (const InspectedCutter& cutter : inspection.cutters) {
    if (cutter.measured.over_field && !all_points(cutter.measured).empty()) shown.push_back(&cutter);
  }
  return shown;
}

std::vector<CloseUp> close_ups_of(const Inspection& inspection, const std::vector<Area>& places) {
  const std::vector<const InspectedCutter*> cutters = shown_cutters(inspection);
  assert(places.size() >= cutters.size());
  const Room room = room_of(inspection.view);
  double scale = kLargestScale;
  std::vector<Area> pictures;
  std::vector<Area> charts;
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    const double share = has_edge_strip_chart(cutters[i]->measured) ? kChartShare : 0;
    const Area& place = places[i];
    const double picture = std::round((1 - share) * place.height);
    pictures.push_back({place.x, place.y, place.width, picture});
    charts.push_back({place.x, place.y + picture, place.width, place.height - picture});
    const Eigen::Matrix2d turn = upright_turn(cutters[i]->measured, inspection.view);
    scale = std::min(scale, scale_into(extent_of(cutters[i]->measured, turn).size(), pictures[i], room));
  }
  std::vector<CloseUp> close_ups;
  for (std::size_t i = 0; i < cutters.size(); ++i) {
    const Eigen::Matrix2d turn = upright_turn(cutters[i]->measured, inspection.view);
    const Extent extent = extent_of(cutters[i]->measured, turn);
    close_ups.push_back({cutters[i], placed(extent, turn, scale, pictures[i], room), pictures[i], charts[i]});
  }
  return close_ups;
}

void draw_close_up(PixelCanvas& canvas, const Photo& photo, const CloseUp& close_up) {
  canvas.picture(close_up_picture(photo.bgr, close_up), static_cast<int>(close_up.place.x),
                 static_cast<int>(close_up.place.y));
  canvas.clip(close_up.place);
  Annotator(canvas, close_up).draw();
  canvas.unclip();
  if (close_up.chart.height < 1) return;
  canvas.clip(close_up.chart);
  draw_edge_strip_chart(canvas, close_up.chart, close_up.cutter->measured);
  canvas.unclip();
}

}  // namespace glintline
