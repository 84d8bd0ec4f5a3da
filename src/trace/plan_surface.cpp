#include "trace/plan_surface.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "math/statistics.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

/// A candidate loses its score where half of it is stripes.
constexpr double kStripedWeight = 2;
/// What is left where both sides of the edge are alike.
constexpr double kLeastParting = 0.6;

/// Keeps the logarithm of a dark gap finite; light is 0 to 1.
constexpr float kFaint = 0.005F;

/// Brightness (its logarithm) row by row from side to side of what is darker than `white`: the median along the chain,
/// so that engraved marks, dirt and a flashing rear rim do not count.
std::vector<double> row_levels(const PlanBand& band, const PlateCandidate& p, float white) {
  constexpr int kAcross = 40;
  constexpr int kAlong = 24;
  constexpr std::size_t kLeastTold = 4;  // samples of a row
  std::vector<double> rows;
  for (int v = 0; v < kAcross; ++v) {
    // The sides' rims are rounded and mirror what lies beside the plate.
    const double across = 0.1 + 0.8 * (v + 0.5) / kAcross;
    const Point2 rear = p.rear[0] + across * (p.rear[1] - p.rear[0]);
    const Point2 front = p.front[0] + across * (p.front[1] - p.front[0]);
    std::vector<double> levels;
    for (int u = 0; u < kAlong; ++u) {
      const Point2 at = rear + (0.08 + 0.84 * (u + 0.5) / kAlong) * (front - rear);
      if (!inside(band.bgr, at.x(), at.y())) continue;
      const cv::Vec3f light = linear_at(band.bgr, at.x(), at.y());
      if (std::min({light[0], light[1], light[2]}) < white) levels.push_back(light[1] + kFaint);
    }
    if (levels.size() >= kLeastTold) rows.push_back(std::log(median(levels)));
  }
  return rows;
}

/// Share of rows that are twice as bright or half as dark as the middle one.
double unlike_share(const std::vector<double>& rows) {
  constexpr double kUnlike = 0.69;  // ln 2
  if (rows.empty()) return 1;
  const double middle = median(rows);
  const auto unlike = std::count_if(rows.begin(), rows.end(), [&](double r) { return std::abs(r - middle) > kUnlike; });
  return static_cast<double>(unlike) / static_cast<double>(rows.size());
}

/// Logarithms of the light on one row across an edge.
struct Crossing {
  cv::Vec3d behind;  ///< medians of each colour
  cv::Vec3d beyond;
  double darkest = 0;  ///< at the edge, green

  /// Difference of the colour that changes most: a slip may be as bright as the plate.
  [[nodiscard]] double step() const {
    return std::max(
        {std::abs(behind[0] - beyond[0]), std::abs(behind[1] - beyond[1]), std::abs(behind[2] - beyond[2])});
  }
  /// How much darker the edge is than the darker of both sides.
  [[nodiscard]] double dark() const { return std::max(0.0, std::min(behind[1], beyond[1]) - darkest); }
};

/// Light from `from` to `to` mm ahead of a point of the edge.
std::vector<cv::Vec3f> light_ahead(const PlanBand& band, const Point2& at, double forward, double from, double to) {
  constexpr double kStepMm = 0.05;
  std::vector<cv::Vec3f> out;
  for (double mm = from; mm < to; mm += kStepMm) {
    const double x = at.x() + forward * mm / band.frame.mm_per_px;
    if (inside(band.bgr, x, at.y())) out.push_back(linear_at(band.bgr, x, at.y()));
  }
  return out;
}

cv::Vec3d middle_of(const std::vector<cv::Vec3f>& all) {
  cv::Vec3d out;
  for (int c = 0; c < 3; ++c) {
    std::vector<double> channel;
    for (const cv::Vec3f& light : all) channel.push_back(light[c]);
    out[c] = std::log(median(std::move(channel)) + kFaint);
  }
  return out;
}

/// The near side and the far one start beyond an engraved mark, of which either rim may have been taken for the edge.
std::optional<Crossing> crossing_at(const PlanBand& band, const Point2& at, double forward) {
  constexpr double kNearMm = 0.3;
  constexpr double kFarMm = 0.65;
  const std::vector<cv::Vec3f> behind = light_ahead(band, at, forward, -kFarMm, -kNearMm);
  const std::vector<cv::Vec3f> edge = light_ahead(band, at, forward, -kNearMm, kNearMm);
  const std::vector<cv::Vec3f> beyond = light_ahead(band, at, forward, kNearMm, kFarMm);
  if (behind.empty() || edge.empty() || beyond.empty()) return std::nullopt;
  const auto darker = [](const cv::Vec3f& a, const cv::Vec3f& b) { return a[1] < b[1]; };
  const cv::Vec3f& darkest = *std::min_element(edge.begin(), edge.end(), darker);
  return Crossing{middle_of(behind), middle_of(beyond), std::log(darkest[1] + kFaint)};
}

}  // namespace

double one_surface_share(const PlanBand& band, const PlateCandidate& plate) {
  // A lamp's image on a bright plate is white; stripes show beside it too.
  constexpr float kWhite = 0.9F;
  constexpr float kAll = 2;
  const double striped =
      std::min(unlike_share(row_levels(band, plate, kAll)), unlike_share(row_levels(band, plate, kWhite)));
  return 1 - std::min(1.0, kStripedWeight * striped);
}

double parting_share(const PlanBand& band, const PlateCandidate& plate) {
  constexpr int kRows = 30;
  constexpr double kTexture = 0.1;  // a difference of a tenth may be grinding marks or grain
  const double forward = plate.runs_forward() ? 1 : -1;
  std::vector<double> behind;
  std::vector<double> step;
  std::vector<double> dark;
  for (int v = 0; v < kRows; ++v) {
    const double across = 0.08 + 0.84 * (v + 0.5) / kRows;
    const auto row = crossing_at(band, plate.front[0] + across * (plate.front[1] - plate.front[0]), forward);
    if (!row) continue;
    behind.push_back(row->behind[1]);
    step.push_back(row->step());
    dark.push_back(row->dark());
  }
  if (step.empty()) return kLeastParting;
  const double uneven = mad_sigma(behind);
  const double parted = median(step) / (median(step) + uneven + median(dark) + kTexture);
  return kLeastParting + (1 - kLeastParting) * parted;
}

}  // namespace glintline
