#include "trace/cutter_trace.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/text.h"
#include "math/line_fit.h"
#include "math/statistics.h"
#include "trace/edge_profile.h"
#include "trace/linear_light.h"
#include "trace/plane_picture.h"
#include "trace/sharpening.h"

namespace glintline {

namespace {

/// Everything the steps below look at: the cutter square on, x from rear to front along the rivets, y down towards
/// the bar.
struct Scene {
  cv::Mat picture;        ///< sRGB
  cv::Mat solid;          ///< 255 where the picture is not field and joined to the link's body
  PlaneFrame frame;
  double pitch_px = 0;
  Point2 rear_rivet;      ///< picture pixels
  double blur = 1;        ///< usual blur, picture pixels
  double px_per_sample = 1;  ///< photograph's pixels a picture pixel
  Sharpening sharpening;
  const FieldColour* field = nullptr;

  [[nodiscard]] double px(double mm) const { return mm / frame.mm_per_px; }
  [[nodiscard]] int column(double pitches) const {
    return std::clamp(static_cast<int>(std::lround(rear_rivet.x() + pitches * pitch_px)), 0, picture.cols - 1);
  }
};

/// Share of a photograph's pixel that one pixel of the square-on picture shows: fine enough that bilinear sampling adds
/// little blur, coarse enough to be quick.
constexpr double kPictureFineness = 0.8;
constexpr double kBehind = 0.8;   ///< pitches shown behind the rear rivet
constexpr double kAhead = 1.75;   ///< pitches shown ahead of the rear rivet
constexpr double kAbove = 1.25;   ///< pitches shown over the rivet line
constexpr double kFrom = 0.12;    ///< lowest line shown, pitches over the rivet line: inside every link's body

Scene make_scene(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field, const CutterFrame& cutter) {
  Scene s;
  s.field = &field;
  const Point2 along = cutter.front_rivet_mm - cutter.rear_rivet_mm;
  const double pitch = along.norm();
  const double native = pose.view.mm_per_px(
      pose.view.pixel({cutter.rear_rivet_mm.x(), cutter.rear_rivet_mm.y(), -cutter.height_mm}), cutter.height_mm);
  s.frame.mm_per_px = std::max(kPictureFineness * native, 0.012);
  s.frame.right = along / pitch;
  s.frame.down = -cutter.up;
  s.frame.height_mm = cutter.height_mm;
  s.frame.origin_mm = cutter.rear_rivet_mm - kBehind * along + kAbove * pitch * cutter.up;
  s.pitch_px = pitch / s.frame.mm_per_px;
  s.frame.size = {static_cast<int>((kBehind + kAhead) * s.pitch_px), static_cast<int>((kAbove - kFrom) * s.pitch_px)};
  s.rear_rivet = {kBehind * s.pitch_px, kAbove * s.pitch_px};
  s.blur = std::max(1.0, pose.blur_px) * native / s.frame.mm_per_px;
  s.px_per_sample = s.frame.mm_per_px / native;
  s.sharpening = sharpening_of(pose.blur_px, pose.overshoot);
  s.picture = picture_of_plane(bgr, pose.view, s.frame);
  return s;
}

/// The field as a polygon of the square-on picture: what lies outside says nothing of the cutter.
cv::Mat field_mask(const Scene& s, const CardPose& pose) {
  const BoardBox box = pose.field();
  std::vector<cv::Point> polygon;
  for (const Point2& corner : {box.min, Point2(box.max.x(), box.min.y()), box.max, Point2(box.min.x(), box.max.y())}) {
    const Point2 seen = pose.view.at_height(pose.view.pixel({corner.x(), corner.y(), 0}), s.frame.height_mm);
    const Point2 d = (seen - s.frame.origin_mm) / s.frame.mm_per_px;
    polygon.emplace_back(cvRound(d.dot(s.frame.right)), cvRound(d.dot(s.frame.down)));
  }
  cv::Mat mask = cv::Mat::zeros(s.picture.size(), CV_8U);
  cv::fillConvexPoly(mask, polygon, 255);
  return mask;
}

/// Change of the field's light from one pixel of the flooding to the next (half as fine as the picture) that a cast
/// shadow's penumbra may show and an edge in focus does not: a step of a fifth over two blur widths is twice as steep.
constexpr double kFloodStep = 0.05;

/// The open field: pixels of the field's colour that can be reached from the picture's upper border without crossing
/// an edge. Bevels and rims that mirror the field have its colour, but an edge round them.
cv::Mat open_field(const Scene& s, const cv::Mat& inside) {
  cv::Mat half;
  cv::resize(s.picture, half, {}, 0.5, 0.5, cv::INTER_AREA);
  cv::GaussianBlur(half, half, {}, 0.8);
  constexpr double kSteps = 4;  // levels a flood step: the flood works on whole numbers
  const double scale = kSteps / std::log(1 + kFloodStep);
  cv::Mat level(half.size(), CV_32S);
  cv::Mat blocked = cv::Mat::zeros(half.rows + 2, half.cols + 2, CV_8U);
  for (int y = 0; y < half.rows; ++y) {
    const auto* row = half.ptr<cv::Vec3b>(y);
    auto* out = level.ptr<int>(y);
    auto* wall = blocked.ptr<uchar>(y + 1) + 1;
    const auto* in = inside.ptr<uchar>(std::min(2 * y, inside.rows - 1));
    for (int x = 0; x < half.cols; ++x) {
      out[x] = static_cast<int>(scale * std::log(std::max(1e-4F, s.field->along(row[x]))));
      wall[x] = !in[std::min(2 * x, inside.cols - 1)] || s.field->differs(row[x]) ? 1 : 0;
    }
  }
  for (int x = 0; x < half.cols; x += 4) {
    int y = 0;
    while (y < half.rows / 4 && blocked.at<uchar>(y + 1, x + 1)) ++y;
    if (blocked.at<uchar>(y + 1, x + 1)) continue;
    cv::floodFill(level, blocked, {x, y}, 0, nullptr, kSteps, kSteps, 4 | cv::FLOODFILL_MASK_ONLY | (255 << 8));
  }
  cv::Mat reached = blocked(cv::Rect(1, 1, half.cols, half.rows)) == 255;
  cv::resize(reached, reached, s.picture.size(), 0, 0, cv::INTER_NEAREST);
  return reached;
}

/// Pixels of the cutter's body: not open field, and joined to the largest such piece, so that sawdust and stains on the
/// field are left out.
cv::Mat body_of(const Scene& s, const cv::Mat& inside) {
  cv::Mat other = inside & ~open_field(s, inside);
  cv::morphologyEx(other, other, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(other, labels, stats, centres, 4);
  int largest = 0;
  int area = 0;
  for (int i = 1; i < count; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) > area) {
      area = stats.at<int>(i, cv::CC_STAT_AREA);
      largest = i;
    }
  }
  if (largest == 0) return cv::Mat::zeros(other.size(), CV_8U);
  return labels == largest;
}

/// Topmost body pixel of every column, or the picture's height where there is none.
std::vector<int> skyline(const cv::Mat& solid) {
  std::vector<int> top(solid.cols, solid.rows);
  for (int y = solid.rows - 1; y >= 0; --y) {
    const auto* row = solid.ptr<uchar>(y);
    for (int x = 0; x < solid.cols; ++x) {
      if (row[x]) top[x] = y;
    }
  }
  return top;
}

/// Light along `count` samples from `start` by `step`, averaged over `half` parallel samples either side, the camera's
/// sharpening taken out.
EdgeProfile profile_at(const Scene& s, const Point2& start, const Point2& step, int count, int half) {
  std::array<std::vector<double>, 3> codes;
  const Point2 aside = turned_quarter(step);
  for (int i = 0; i < count; ++i) {
    cv::Vec3d sum(0, 0, 0);
    int n = 0;
    for (int k = -half; k <= half; ++k) {
      const Point2 at = start + i * step + k * aside;
      const int x = static_cast<int>(std::lround(at.x()));
      const int y = static_cast<int>(std::lround(at.y()));
      if (x < 0 || y < 0 || x >= s.picture.cols || y >= s.picture.rows) continue;
      sum += s.picture.at<cv::Vec3b>(y, x);
      ++n;
    }
    if (n == 0) break;
    for (int c = 0; c < 3; ++c) codes[c].push_back(sum[c] / n);
  }
  for (auto& channel : codes) take_out(s.sharpening, s.px_per_sample, channel);
  EdgeProfile p;
  for (std::size_t i = 0; i < codes[0].size(); ++i) {
    const cv::Vec3f light(linear_of(codes[0][i]), linear_of(codes[1][i]), linear_of(codes[2][i]));
    const float a = light.dot(s.field->direction);
    p.along.push_back(a);
    p.across.push_back(std::sqrt(std::max(0.0F, light.dot(light) - a * a)));
  }
  return p;
}

/// What one profile showed, square-on picture pixels.
struct Sighting {
  std::optional<Point2> rise;
  std::optional<Point2> drop;
  double mirror = 0;  ///< width of the strip that mirrors the field; 0 where there is none to see
  double blur = 0;    ///< samples
};

/// The outline met on the way from outside towards `coarse` in direction `inwards` (a unit axis step).
std::optional<Sighting> sight(const Scene& s, const Point2& coarse, const Point2& inwards) {
  const double reach = 4 * s.blur + 3;
  const int before = static_cast<int>(std::ceil(reach + 8 * s.blur + 6));
  const int count = before + static_cast<int>(std::ceil(reach + 4 * s.blur));
  const Point2 start = coarse - before * inwards;
  if (start.x() < 0 || start.y() < 0 || start.x() >= s.picture.cols || start.y() >= s.picture.rows) return std::nullopt;
  const EdgeProfile profile = profile_at(s, start, inwards, count, 1);
  if (static_cast<int>(profile.along.size()) < count) return std::nullopt;
  const EdgeSigns signs = find_edge(profile, before, reach, s.blur);
  if (!signs.rise && !signs.drop) return std::nullopt;
  Sighting seen;
  if (signs.rise) seen.rise = start + signs.rise->at * inwards;
  if (signs.drop) seen.drop = start + signs.drop->at * inwards;
  if (signs.rise && signs.drop) seen.mirror = std::max(0.0, signs.rise->at - signs.drop->at);
  seen.blur = signs.rise ? signs.rise->blur : signs.drop->blur;
  return seen;
}

/// Strips that mirror the field are told from what coarse chroma and sharpening leave at an edge from this width on,
/// photograph's pixels, where the camera looks down on the tops and sees their whole thickness.
constexpr double kLeastMirrorPx = 2.0;
/// Else only bevels mirror widely; rims do so over a pixel or two, and there the bare steel's edge is the surer one.
constexpr double kLeastBevelPx = 5.0;

/// The outline through neighbouring sightings: where a strip that mirrors the field stands before the bare steel over
/// a stretch of them, the strip's outer edge, else the bare steel's. Strips narrower than `least_px` (photograph's
/// pixels) are not looked for.
std::vector<Point2> settled(const Scene& s, const std::vector<Sighting>& seen, double least_px) {
  constexpr int kNeighbours = 5;
  std::vector<Point2> points;
  const int count = static_cast<int>(seen.size());
  for (int i = 0; i < count; ++i) {
    std::vector<double> widths;
    for (int k = std::max(0, i - kNeighbours); k <= std::min(count - 1, i + kNeighbours); ++k) {
      widths.push_back(seen[k].rise ? seen[k].mirror : 1e3);
    }
    const bool mirrors = median(widths) * s.px_per_sample > least_px;
    const auto& point = mirrors && seen[i].drop ? seen[i].drop : seen[i].rise;
    if (point && (!mirrors || seen[i].drop)) points.push_back(*point);
  }
  return points;
}

/// The parts of the skyline that matter, as columns.
struct Landmarks {
  int plate_from = 0;
  int plate_to = 0;
  int gullet = 0;
  int gauge = 0;
  Line2 plate_line;  ///< coarse, picture pixels
};

Point2 on_line(const Line2& line, double x) {
  return {x, line.point.y() + (x - line.point.x()) * line.direction.y() / line.direction.x()};
}

std::optional<Landmarks> landmarks(const Scene& s, const std::vector<int>& top) {
  Landmarks m;
  const auto lowest = [&](int from, int to) {
    return static_cast<int>(std::max_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  const auto highest = [&](int from, int to) {
    return static_cast<int>(std::min_element(top.begin() + from, top.begin() + to) - top.begin());
  };
  m.gauge = highest(s.column(0.95), s.column(1.45));
  m.gullet = lowest(s.column(0.1), m.gauge);
  const int peak = highest(s.column(-0.45), m.gullet);
  // A top plate of 12 mm that falls by 8 degrees drops 1.7 mm.
  const int floor = top[peak] + static_cast<int>(s.px(1.8));
  std::vector<Point2> points;
  for (int x = s.column(-0.6); x < m.gullet; ++x) {
    if (top[x] < floor) points.emplace_back(x, top[x]);
  }
  if (points.size() < 20) return std::nullopt;
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.5});
  if (!fit.ok() || std::abs(fit->line.direction.y()) > 0.35 * std::abs(fit->line.direction.x())) return std::nullopt;
  m.plate_line = fit->line;
  const auto follows = [&](int x) { return std::abs(top[x] - on_line(m.plate_line, x).y()) < s.px(0.12) + 2; };
  int middle = static_cast<int>(fit->line.point.x());
  m.plate_from = m.plate_to = middle;
  int missed = 0;
  for (int x = middle; x < m.gullet && missed < s.px(0.6); ++x) {
    missed = follows(x) ? 0 : missed + 1;
    if (!missed) m.plate_to = x;
  }
  missed = 0;
  for (int x = middle; x > s.column(-0.7) && missed < s.px(0.6); --x) {
    missed = follows(x) ? 0 : missed + 1;
    if (!missed) m.plate_from = x;
  }
  return m;
}

EdgePoint in_photo(const Scene& s, const CardPose& pose, const Point2& at) {
  // Scatter of a single crossing on clean edges; measure widens it by what its fits see.
  constexpr double kSinglePx = 0.15;
  return {pose.view.pixel(s.frame.board(at.x(), at.y())), kSinglePx};
}

}  // namespace

Result<CutterOutline> trace_cutter(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                                   const CutterFrame& cutter) {
  Scene s = make_scene(bgr, pose, field, cutter);
  s.solid = body_of(s, field_mask(s, pose));
  const std::vector<int> top = skyline(s.solid);
  if (const char* d = getenv("DUMPSOLID")) { static int n = 0; FILE* f = fopen((std::string(d) + std::to_string(n++) + ".pgm").c_str(), "wb"); cv::Mat g; cv::cvtColor(s.picture, g, cv::COLOR_BGR2GRAY); cv::Mat o; cv::vconcat(g, s.solid, o); fprintf(f, "P5 %d %d 255\n", o.cols, o.rows); for (int y = 0; y < o.rows; ++y) fwrite(o.ptr(y), 1, o.cols, f); fclose(f); }
  const auto m = landmarks(s, top);
  if (!m) return Error{Fault::kNoCutter, "no top plate stands free over the field", {}};

  CutterOutline out;
  std::vector<double> blurs;
  std::vector<Sighting> seen;
  const auto look = [&](const Point2& coarse, const Point2& inwards) {
    if (const auto sighting = sight(s, coarse, inwards)) {
      seen.push_back(*sighting);
      blurs.push_back(sighting->blur);
    }
  };
  const Point2 crown = pose.view.pixel(s.frame.board(m->gauge, top[m->gauge]));
  const bool looks_down_on_tops = (pose.view.at_height(crown, cutter.height_mm + 1) -
                                   pose.view.at_height(crown, cutter.height_mm)).dot(cutter.up) > 0;
  const double least_px = looks_down_on_tops ? kLeastMirrorPx : kLeastBevelPx;
  const auto settle = [&] {
    std::vector<EdgePoint> points;
    for (const Point2& at : settled(s, seen, least_px)) points.push_back(in_photo(s, pose, at));
    seen.clear();
    return points;
  };
  for (int x = m->plate_from; x <= m->plate_to; x += 2) {
    look({static_cast<double>(x), std::round(on_line(m->plate_line, x).y())}, {0, 1});
  }
  out.top = settle();
  const int gauge_floor = top[m->gauge] + static_cast<int>(s.px(0.45));
  int from = m->gauge;
  int to = m->gauge;
  while (from > m->gullet && top[from - 1] < gauge_floor) --from;
  while (to + 1 < s.picture.cols && top[to + 1] < gauge_floor) ++to;
  for (int x = from; x <= to; x += 2) look(Point2(x, top[x]), {0, 1});
  out.gauge = settle();

  const int front_top = static_cast<int>(on_line(m->plate_line, m->plate_to).y());
  for (int y = front_top + 1; y < front_top + s.px(2.4) && y < s.picture.rows; y += 2) {
    const auto* row = s.solid.ptr<uchar>(y);
    int x = m->gullet;
    while (x > m->plate_from && !row[x]) --x;
    if (x == m->gullet) break;  // below the gullet's ground
    look(Point2(x, y), {-1, 0});
  }
  out.front = settle();
  const int rear_top = static_cast<int>(on_line(m->plate_line, m->plate_from).y());
  for (int y = rear_top + 1; y < rear_top + s.px(1.6) && y < s.picture.rows; y += 2) {
    const auto* row = s.solid.ptr<uchar>(y);
    int x = s.column(-0.75);
    while (x < m->plate_to && !row[x]) ++x;
    look(Point2(x, y), {1, 0});
  }
  out.rear = settle();
  if (blurs.empty()) return Error{Fault::kNoCutter, "no outline of a cutter stands out against the field", {}};
  const double native = pose.view.mm_per_px(pose.view.pixel(s.frame.board(m->gauge, top[m->gauge])), cutter.height_mm);
  out.blur_px = median(blurs) * s.frame.mm_per_px / native;
  return out;
}

}  // namespace glintline
