#include "judge/photo_order.h"

#include <algorithm>
#include <cmath>

#include "math/statistics.h"

namespace glintline {

namespace {

/// A cutter's corner may lie so far from where its pitch puts it, as a share of the distance between two cutters:
/// lengths differ by a millimetre or two in 37, the scale along the picture by a few per cent.
constexpr double kStray = 0.15;

Point2 running_direction(const Inspection& photo) {
  Point2 sum = Point2::Zero();
  for (const InspectedCutter& cutter : photo.cutters) {
    for (const Mark& mark : cutter.measured.marks) {
      if (mark.role != MarkRole::kLength || mark.points_px.size() < 2) continue;
      sum += (mark.points_px.back() - mark.points_px.front()).normalized();
    }
  }
  if (sum.norm() > 0.5) return sum.normalized();
  if (photo.cutters.size() < 2) return Point2::UnitX();
  const Point2 span = photo.cutters.back().measured.corner_px - photo.cutters.front().measured.corner_px;
  return span.norm() > 0 ? Point2(span.normalized()) : Point2(Point2::UnitX());
}

}  // namespace

std::vector<PlacedCutter> running_order(const Inspection& photo) {
  const Point2 ahead = running_direction(photo);
  Point2 middle_px = Point2::Zero();
  if (photo.card) {
    const BoardBox field = photo.card->field();
    const Point2 middle = 0.5 * (field.min + field.max);
    middle_px = photo.card->view.pixel(Point3(middle.x(), middle.y(), 0));
  }
  std::vector<PlacedCutter> placed;
  for (std::size_t c = 0; c < photo.cutters.size(); ++c) {
    const CutterMeasurement& m = photo.cutters[c].measured;
    if (!m.over_field) continue;
    const double along = m.corner_px.dot(ahead) * photo.mm_per_px;
    placed.push_back({c, along, std::abs((m.corner_px - middle_px).dot(ahead)) * photo.mm_per_px});
  }
  std::stable_sort(placed.begin(), placed.end(),
                   [](const PlacedCutter& a, const PlacedCutter& b) { return a.along_mm < b.along_mm; });
  return placed;
}

std::optional<int> CutterSpacing::steps(double gap_mm, int in_order) const {
  if (!pitch_mm || in_order == 0) return in_order;
  if (sequence == Sequence::kSemiSkip) {
    const double least = 4 * *pitch_mm * (std::abs(in_order) - kStray);
    const double most = 6 * *pitch_mm * (std::abs(in_order) + kStray);
    return std::abs(gap_mm) > least && std::abs(gap_mm) < most ? std::optional<int>(in_order) : std::nullopt;
  }
  const double between = (sequence == Sequence::kFull ? 4 : 6) * *pitch_mm;
  const double steps = gap_mm / between;
  const double whole = std::round(steps);
  if (whole == 0 || std::abs(steps - whole) > kStray) return std::nullopt;
  return static_cast<int>(whole);
}

CutterSpacing cutter_spacing(const std::vector<Inspection>& photos, const ChainSheet& sheet) {
  CutterSpacing spacing{sheet.geometry.pitch_mm, sheet.sequence};
  if (spacing.pitch_mm) return spacing;
  std::vector<double> measured;
  for (const Inspection& photo : photos) {
    if (photo.pitch_mm) measured.push_back(photo.pitch_mm->value);
  }
  if (!measured.empty()) spacing.pitch_mm = median(measured);
  return spacing;
}

}  // namespace glintline
