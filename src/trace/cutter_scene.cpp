#include "trace/cutter_scene.h"

#include <opencv2/imgproc.hpp>

namespace glintline {

namespace {

/// Share of a photograph's pixel that one pixel of the square-on picture shows: fine enough that bilinear sampling adds
/// little blur, coarse enough to be quick.
constexpr double kPictureFineness = 0.8;
constexpr double kBehind = 0.8;   ///< pitches shown behind the rear rivet
constexpr double kAhead = 1.75;   ///< pitches shown ahead of the rear rivet
constexpr double kAbove = 1.25;   ///< pitches shown over the rivet line
constexpr double kFrom = 0.12;    ///< lowest line shown, pitches over the rivet line: inside every link's body

/// The field as a polygon of the square-on picture: what lies outside says nothing of the cutter.
cv::Mat field_mask(const CutterScene& s, const CardPose& pose) {
  const BoardBox box = pose.field();
  std::vector<cv::Point> polygon;
  for (const Point2& corner : {box.min, Point2(box.max.x(), box.min.y()), box.max, Point2(box.min.x(), box.max.y())}) {
    const Point2 seen = pose.view.at_height(pose.view.pixel({corner.x(), corner.y(), 0}), s.frame.height_mm);
    const Point2 at = s.frame.shown(seen);
    polygon.emplace_back(cvRound(at.x()), cvRound(at.y()));
  }
  cv::Mat mask = cv::Mat::zeros(s.picture.size(), CV_8U);
  cv::fillConvexPoly(mask, polygon, 255);
  return mask;
}

/// Change of the field's light from one pixel of the flooding to the next (half as fine as the picture) that a cast
/// shadow's penumbra may show and an edge in focus does not: a step of a fifth over two blur widths is twice as steep.
constexpr double kFloodStep = 0.05;

/// Pieces of `may_be` that stand out of a body, long and only a few pixels thin: in a shadow's penumbra a file's blocks
/// (ISO/IEC 10918-1) meet in steps that stop the flood on both of their sides. A strip that mirrors the field borders
/// on steel along its length.
cv::Mat slivers(const cv::Mat& body, const cv::Mat& may_be) {
  constexpr int kThinPx = 5;
  constexpr int kLongPx = 3 * kThinPx;
  cv::Mat thick;
  cv::morphologyEx(body, thick, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {kThinPx, kThinPx}));
  const cv::Mat thin = body & ~thick & may_be;
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(thin, labels, stats, centres, 8);
  cv::Mat found = cv::Mat::zeros(body.size(), CV_8U);
  for (int i = 1; i < count; ++i) {
    if (std::max(stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT)) >= kLongPx)
      found |= labels == i;
  }
  return found;
}

/// The open field: pixels of the field's colour that can be reached from the picture's upper border without crossing
/// an edge. Bevels and rims that mirror the field have its colour, but an edge round them. Slivers that are not kept
/// count as reached.
cv::Mat open_field(const CutterScene& s, const cv::Mat& inside, bool keep_slivers) {
  cv::Mat half;
  cv::resize(s.picture, half, {}, 0.5, 0.5, cv::INTER_AREA);
  cv::GaussianBlur(half, half, {}, 0.8);
  constexpr double kSteps = 4;  // levels a flood step: the flood works on whole numbers
  const double scale = kSteps / std::log(1 + kFloodStep);
  cv::Mat level = cv::Mat::zeros(half.size(), CV_32S);
  cv::Mat blocked = cv::Mat::zeros(half.rows + 2, half.cols + 2, CV_8U);
  for (int y = 0; y < half.rows; ++y) {
    const auto* row = half.ptr<cv::Vec3b>(y);
    auto* out = level.ptr<int>(y);
    auto* wall = blocked.ptr<uchar>(y + 1) + 1;
    const auto* in = inside.ptr<uchar>(std::min(2 * y, inside.rows - 1));
    for (int x = 0; x < half.cols; ++x) {
      wall[x] = !in[std::min(2 * x, inside.cols - 1)] || s.field->differs(row[x]) ? 1 : 0;
      if (!wall[x]) out[x] = static_cast<int>(scale * std::log(std::max(1e-4F, s.field->along(row[x]))));
    }
  }
  for (int x = 0; x < half.cols; x += 4) {
    int y = 0;
    while (y < half.rows / 4 && blocked.at<uchar>(y + 1, x + 1)) ++y;
    if (blocked.at<uchar>(y + 1, x + 1)) continue;
    cv::floodFill(level, blocked, {x, y}, 0, nullptr, kSteps, kSteps, 4 | cv::FLOODFILL_MASK_ONLY | (255 << 8));
  }
  const cv::Mat flood = blocked(cv::Rect(1, 1, half.cols, half.rows));
  cv::Mat reached = flood == 255;
  if (!keep_slivers) reached |= slivers(~reached, flood == 0);
  cv::resize(reached, reached, s.picture.size(), 0, 0, cv::INTER_NEAREST);
  return reached;
}

/// Pixels of the cutter's body: not open field, and joined to the largest such piece, so that sawdust and stains on the
/// field are left out.
cv::Mat body_of(const CutterScene& s, const cv::Mat& inside, bool keep_slivers) {
  cv::Mat other = inside & ~open_field(s, inside, keep_slivers);
  cv::morphologyEx(other, other, cv::MORPH_OPEN, cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5}));
  // Pieces are told apart on every second pixel, a quarter of the work; what borders on the largest belongs to it.
  cv::Mat half;
  cv::resize(other, half, {}, 0.5, 0.5, cv::INTER_NEAREST);
  cv::Mat labels, stats, centres;
  const int count = cv::connectedComponentsWithStats(half, labels, stats, centres, 4);
  int largest = 0;
  int area = 0;
  for (int i = 1; i < count; ++i) {
    if (stats.at<int>(i, cv::CC_STAT_AREA) > area) {
      area = stats.at<int>(i, cv::CC_STAT_AREA);
      largest = i;
    }
  }
  if (largest == 0) return cv::Mat::zeros(other.size(), CV_8U);
  cv::Mat piece = labels == largest;
  cv::dilate(piece, piece, cv::getStructuringElement(cv::MORPH_RECT, {3, 3}));
  cv::resize(piece, piece, other.size(), 0, 0, cv::INTER_NEAREST);
  return other & piece;
}

}  // namespace

CutterScene make_cutter_scene(const cv::Mat& bgr, const CardPose& pose, const FieldColour& field,
                              const CutterFrame& cutter, const Point2& shift) {
  CutterScene s;
  s.field = &field;
  const Point2 along = cutter.front_rivet_mm - cutter.rear_rivet_mm;
  const double pitch = along.norm();
  const double native = pose.view.mm_per_px(
      pose.view.pixel({cutter.rear_rivet_mm.x(), cutter.rear_rivet_mm.y(), -cutter.height_mm}), cutter.height_mm);
  s.frame.mm_per_px = std::max(kPictureFineness * native, 0.012);
  s.frame.right = along / pitch;
  s.frame.down = -cutter.up;
  s.frame.height_mm = cutter.height_mm;
  s.frame.origin_mm = cutter.rear_rivet_mm - kBehind * along + kAbove * pitch * cutter.up +
                      s.frame.mm_per_px * (shift.x() * s.frame.right + shift.y() * s.frame.down);
  s.pitch_px = pitch / s.frame.mm_per_px;
  s.frame.size = {static_cast<int>((kBehind + kAhead) * s.pitch_px), static_cast<int>((kAbove - kFrom) * s.pitch_px)};
  s.rear_rivet = Point2(kBehind * s.pitch_px, kAbove * s.pitch_px) - shift;
  s.blur = std::max(1.0, pose.blur_px) * native / s.frame.mm_per_px;
  s.px_per_sample = s.frame.mm_per_px / native;
  s.sharpening = ProfileFilter(sharpening_of(pose.blur_px, pose.overshoot), s.px_per_sample);
  s.picture = picture_of_plane(bgr, pose.view, s.frame);
  s.solid = body_of(s, field_mask(s, pose), true);
  return s;
}

cv::Mat solid_without_slivers(const CutterScene& s, const CardPose& pose) {
  return body_of(s, field_mask(s, pose), false);
}

std::vector<int> skyline(const cv::Mat& solid) {
  std::vector<int> top(solid.cols, solid.rows);
  for (int y = solid.rows - 1; y >= 0; --y) {
    const auto* row = solid.ptr<uchar>(y);
    for (int x = 0; x < solid.cols; ++x) {
      top[x] = row[x] ? y : top[x];
    }
  }
  return top;
}

}  // namespace glintline
