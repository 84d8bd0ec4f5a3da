#include "trace/plan_band.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "math/linear_light.h"
#include "math/statistics.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

constexpr double kHalfTurnDeg = M_PI / 180;
/// How far the slot may lean against the card's sides.
constexpr double kMostLeanDeg = 25;
/// Finding needs a place to a tenth of a millimetre; finer samples only cost time.
constexpr double kFinestPitchMm = 0.05;
/// Beyond the slot's sides, for plates that perspective shifts over its rim.
constexpr double kMarginMm = 1.5;

struct Sample {
  Point2 board;
  cv::Vec3f linear;
};

/// The field looked at every tenth of a square, on the card's plane.
std::vector<Sample> field_samples(const Photo& photo, const CardPose& pose) {
  const BoardBox box = pose.field();
  const double step = pose.square_mm / 10;
  std::vector<Sample> out;
  for (double y = box.min.y() + step; y < box.max.y(); y += step) {
    for (double x = box.min.x() + step; x < box.max.x(); x += step) {
      const Point2 px = pose.view.pixel(Point3(x, y, 0));
      if (!inside(photo.bgr, px.x(), px.y(), 2)) continue;
      cv::Vec3f sum(0, 0, 0);
      for (int k = 0; k < 9; ++k) sum += linear_at(photo.bgr, px.x() + k % 3 - 1, px.y() + k / 3 - 1);
      out.push_back({Point2(x, y), sum / 9});
    }
  }
  return out;
}

/// The field's colour is the middle colour of its outer frame: whatever crosses that (slot, slip, dirt) is the
/// smaller part of it.
FieldShare learned_share(const std::vector<Sample>& samples, const CardPose& pose) {
  const BoardBox box = pose.field();
  const double frame = pose.square_mm;
  std::array<std::vector<double>, 3> shares;
  for (const Sample& s : samples) {
    const Point2 in = (s.board - box.min).cwiseMin(box.max - s.board);
    if (in.minCoeff() > frame) continue;
    const float sum = s.linear[0] + s.linear[1] + s.linear[2];
    if (!(sum > 0)) continue;
    for (int c = 0; c < 3; ++c) shares[c].push_back(s.linear[c] / sum);
  }
  FieldShare field;
  float square = 0;
  for (int c = 0; c < 3; ++c) {
    field.share[c] = static_cast<float>(median(shares[c]));
    square += (field.share[c] - 1 / 3.0F) * (field.share[c] - 1 / 3.0F);
  }
  field.reach = 0.5F * std::sqrt(square);  // half-way to neutral steel
  return field;
}

struct Stripe {
  double angle_rad = 0;
  double low_mm = 0;  ///< of the signed distance across
  double high_mm = 0;
  double peak = 0;
};

/// Histogram of the strays' places across the direction `angle`; its peakedness tells the slot's direction.
Stripe stripe_at(const std::vector<Point2>& strays, double angle, double bin_mm) {
  const Point2 across = turned_quarter(Point2(std::cos(angle), std::sin(angle)));
  double low = 1e9;
  double high = -1e9;
  for (const Point2& p : strays) {
    low = std::min(low, p.dot(across));
    high = std::max(high, p.dot(across));
  }
  std::vector<double> counts(static_cast<int>((high - low) / bin_mm) + 1, 0);
  for (const Point2& p : strays) counts[static_cast<int>((p.dot(across) - low) / bin_mm)] += 1;
  Stripe out;
  out.angle_rad = angle;
  for (const double c : counts) out.peak += c * c;
  const auto top = std::max_element(counts.begin(), counts.end());
  int first = static_cast<int>(top - counts.begin());
  int last = first;
  const auto filled = [&](int i) { return i >= 0 && i < static_cast<int>(counts.size()) && counts[i] > 0.25 * *top; };
  while (filled(first - 1) || filled(first - 2)) --first;
  while (filled(last + 1) || filled(last + 2)) ++last;
  out.low_mm = low + first * bin_mm;
  out.high_mm = low + (last + 1) * bin_mm;
  return out;
}

Stripe find_stripe(const std::vector<Point2>& strays, double bin_mm) {
  Stripe best;
  const auto look = [&](double centre_deg, double reach_deg, double step_deg) {
    for (double a = centre_deg - reach_deg; a <= centre_deg + reach_deg; a += step_deg) {
      const Stripe s = stripe_at(strays, a * kHalfTurnDeg, bin_mm);
      if (s.peak > best.peak) best = s;
    }
  };
  look(0, kMostLeanDeg, 2);
  look(90, kMostLeanDeg, 2);
  look(best.angle_rad / kHalfTurnDeg, 2, 0.25);
  return best;
}

/// Range of the field's box along a direction.
std::pair<double, double> extent(const BoardBox& box, const Point2& direction) {
  double low = 1e9;
  double high = -1e9;
  for (int k = 0; k < 4; ++k) {
    const Point2 corner(k % 2 ? box.max.x() : box.min.x(), k / 2 ? box.max.y() : box.min.y());
    low = std::min(low, corner.dot(direction));
    high = std::max(high, corner.dot(direction));
  }
  return {low, high};
}

cv::Mat field_mask(const cv::Mat& bgr, const FieldShare& colour) {
  const auto& linear = linear_light();
  cv::Mat mask(bgr.size(), CV_8U);
  for (int j = 0; j < bgr.rows; ++j) {
    const cv::Vec3b* row = bgr.ptr<cv::Vec3b>(j);
    uchar* out = mask.ptr<uchar>(j);
    for (int i = 0; i < bgr.cols; ++i) {
      const cv::Vec3f lin(linear[row[i][0]], linear[row[i][1]], linear[row[i][2]]);
      out[i] = colour.holds(lin) ? 255 : 0;
    }
  }
  return mask;
}

/// Samples the photograph for a band whose place is settled.
void fill(PlanBand& band, const Photo& photo, const CardPose& pose) {
  band.bgr = picture_of_plane(photo.bgr, pose.view, band.frame);
  band.field = field_mask(band.bgr, band.colour);
}

}  // namespace

bool FieldShare::holds(const cv::Vec3f& linear) const {
  const float sum = linear[0] + linear[1] + linear[2];
  const cv::Vec3f off = linear - share * sum;
  return off.dot(off) < reach * reach * sum * sum;
}

Result<PlanBand> find_band(const Photo& photo, const CardPose& pose, double height_mm) {
  const std::vector<Sample> samples = field_samples(photo, pose);
  PlanBand band;
  band.colour = learned_share(samples, pose);
  std::vector<Point2> strays;
  for (const Sample& s : samples) {
    if (!band.colour.holds(s.linear)) strays.push_back(s.board);
  }
  if (strays.size() < samples.size() / 50 || strays.empty()) {
    return Error{Fault::kNoCutter, "no cutter in the card's field: lay the chain so that a top plate stands in it", {}};
  }
  const Stripe stripe = find_stripe(strays, pose.square_mm / 10);
  PlaneFrame& frame = band.frame;
  frame.right = Point2(std::cos(stripe.angle_rad), std::sin(stripe.angle_rad));
  frame.down = turned_quarter(frame.right);
  const Point2 stray_px = pose.view.pixel(Point3(strays[0].x(), strays[0].y(), 0));
  frame.mm_per_px = std::max(kFinestPitchMm, pose.view.mm_per_px(stray_px, 0));
  frame.height_mm = height_mm;
  const auto [low, high] = extent(pose.field(), frame.right);
  frame.origin_mm = low * frame.right + (stripe.low_mm - kMarginMm) * frame.down;
  frame.size = cv::Size(static_cast<int>((high - low) / frame.mm_per_px),
                        static_cast<int>((stripe.high_mm - stripe.low_mm + 2 * kMarginMm) / frame.mm_per_px));
  fill(band, photo, pose);
  return band;
}

PlanBand part_of_band(const Photo& photo, const CardPose& pose, const PlanBand& band, int from, int to,
                      const Point2& shift) {
  const int first = std::clamp(from, 0, band.frame.size.width - 1);
  const int last = std::clamp(to, first + 1, band.frame.size.width);
  PlanBand part{band.frame, {}, {}, band.colour};
  part.frame.origin_mm = band.frame.board(shift.x() + first, shift.y()).head<2>();
  part.frame.size.width = last - first;
  fill(part, photo, pose);
  return part;
}

}  // namespace glintline
