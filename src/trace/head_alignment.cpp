#include "trace/head_alignment.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "math/parabola.h"
#include "math/statistics.h"
#include "trace/plane_picture.h"

namespace glintline {

namespace {

constexpr double kMmPerPx = 0.06;
constexpr double kSmoothPx = 1.3;
constexpr int kReachPx = 6;

/// Root of the gradient's magnitude around a centre: edges of highlights, grain and outline weigh alike.
cv::Mat edge_picture(const cv::Mat& bgr, const CameraView& view, const Point2& centre, double half_mm, double height) {
  PlaneFrame frame;
  frame.mm_per_px = kMmPerPx;
  const int side = 2 * static_cast<int>(half_mm / kMmPerPx) + 1;
  frame.size = {side, side};
  frame.height_mm = height;
  frame.origin_mm = centre - (side / 2) * kMmPerPx * Point2(1, 1);
  cv::Mat grey, smooth, gx, gy, magnitude;
  cv::cvtColor(picture_of_plane(bgr, view, frame), grey, cv::COLOR_BGR2GRAY);
  grey.convertTo(smooth, CV_32F);
  cv::GaussianBlur(smooth, smooth, {}, kSmoothPx);
  cv::Sobel(smooth, gx, CV_32F, 1, 0);
  cv::Sobel(smooth, gy, CV_32F, 0, 1);
  cv::magnitude(gx, gy, magnitude);
  cv::sqrt(magnitude, magnitude);
  return magnitude;
}

/// Subtracts the mean inside `mask` and divides by the norm; 0 outside.
cv::Mat normalised(const cv::Mat& picture, const cv::Mat& mask) {
  cv::Mat out = cv::Mat::zeros(picture.size(), CV_32F);
  cv::subtract(picture, cv::mean(picture, mask), out, mask);
  const double norm = cv::norm(out);
  return norm > 0 ? cv::Mat(out / norm) : out;
}

/// The part of a head's edge picture that is `shift` pixels off its middle, of the size of the mask.
cv::Mat part(const cv::Mat& edges, const Point2& shift, cv::Size size) {
  cv::Mat out;
  cv::getRectSubPix(
      edges, size,
      {static_cast<float>((edges.cols - 1) / 2.0 + shift.x()), static_cast<float>((edges.rows - 1) / 2.0 + shift.y())},
      out);
  return out;
}

struct Match {
  Point2 shift;
  double likeness;
};

/// Shift of `edges` within `around` pixels of `start` that agrees best with `common` (normalised). The agreement is
/// smooth over the pictures' smoothing, so that it is climbed from `start` instead of searched through.
Match best_shift(const cv::Mat& edges, const cv::Mat& common, const cv::Mat& mask, const Point2& start, int around) {
  constexpr double kUnknown = -2;  // under any correlation
  const int side = 2 * around + 3;
  cv::Mat score(side, side, CV_64F, cv::Scalar(kUnknown));
  const auto at = [&](const cv::Point& p) {
    double& value = score.at<double>(p);
    if (value == kUnknown) {
      const Point2 shift = start + Point2(p.x - around - 1, p.y - around - 1);
      value = normalised(part(edges, shift, common.size()), mask).dot(common);
    }
    return value;
  };
  cv::Point top(around + 1, around + 1);
  for (bool climbing = true; climbing;) {
    climbing = false;
    cv::Point next = top;
    for (const cv::Point step : {cv::Point(1, 0), cv::Point(-1, 0), cv::Point(0, 1), cv::Point(0, -1)}) {
      const cv::Point tried = top + step;
      const bool inside = std::max(std::abs(tried.x - around - 1), std::abs(tried.y - around - 1)) <= around;
      if (inside && at(tried) > at(next)) next = tried;
    }
    climbing = next != top;
    top = next;
  }
  const double likeness = at(top);
  Point2 shift = start + Point2(top.x - around - 1, top.y - around - 1);
  shift.x() += apex(at(top - cv::Point(1, 0)), likeness, at(top + cv::Point(1, 0)));
  shift.y() += apex(at(top - cv::Point(0, 1)), likeness, at(top + cv::Point(0, 1)));
  return {shift, likeness};
}

/// Standard uncertainty of a shift, pixels: residual variance over the squared slopes of the common head, times the
/// number of pixels that the smoothing makes one.
double shift_u(const cv::Mat& common, double likeness) {
  cv::Mat gx, gy;
  cv::Sobel(common, gx, CV_32F, 1, 0, 3, 1.0 / 8);
  cv::Sobel(common, gy, CV_32F, 0, 1, 3, 1.0 / 8);
  const double slopes = std::min(gx.dot(gx), gy.dot(gy));
  const double pixels_in_one = 4 * std::numbers::pi * kSmoothPx * kSmoothPx;
  const double left_over = std::max(0.0, 1 - likeness * likeness) / static_cast<double>(common.total());
  return std::sqrt(left_over * pixels_in_one / std::max(1e-12, slopes));
}

}  // namespace

Point2 common_shift(const std::vector<Point2>& shifts) {
  std::vector<double> x, y;
  for (const Point2& s : shifts) {
    x.push_back(s.x());
    y.push_back(s.y());
  }
  return {median(std::move(x)), median(std::move(y))};
}

std::vector<AlignedHead> align_heads(const cv::Mat& bgr, const CameraView& view, const std::vector<Point2>& centres_mm,
                                     double radius_mm, double height_mm) {
  const double half = 1.25 * radius_mm;
  std::vector<cv::Mat> edges;
  for (const Point2& c : centres_mm) {
    edges.push_back(edge_picture(bgr, view, c, half + 2 * kReachPx * kMmPerPx, height_mm));
  }
  const int side = 2 * static_cast<int>(half / kMmPerPx) + 1;
  cv::Mat mask = cv::Mat::zeros(side, side, CV_8U);
  cv::circle(mask, {side / 2, side / 2}, side / 2, 255, cv::FILLED);

  const std::size_t count = centres_mm.size();
  std::vector<Match> matches(count, {Point2::Zero(), 0});
  std::vector<double> u(count, 0);
  for (int round = 0; round < 3; ++round) {
    std::vector<cv::Mat> heads;
    cv::Mat sum = cv::Mat::zeros(side, side, CV_32F);
    for (std::size_t i = 0; i < count; ++i) {
      heads.push_back(normalised(part(edges[i], matches[i].shift, mask.size()), mask));
      sum += heads.back();
    }
    for (std::size_t i = 0; i < count; ++i) {
      // Without the head itself, which would hold itself where it is.
      const cv::Mat common = normalised(sum - heads[i], mask);
      const Match found = best_shift(edges[i], common, mask, matches[i].shift, round == 0 ? 3 : 2);
      if (found.shift.cwiseAbs().maxCoeff() <= kReachPx) matches[i] = found;
      u[i] = shift_u(common, found.likeness);
    }
  }
  std::vector<Point2> shifts;
  for (const Match& m : matches) shifts.push_back(m.shift);
  const Point2 common = common_shift(shifts);
  std::vector<AlignedHead> aligned;
  for (std::size_t i = 0; i < count; ++i) {
    aligned.push_back(
        {centres_mm[i] + kMmPerPx * (shifts[i] - common), kMmPerPx * u[i], matches[i].likeness});
  }
  return aligned;
}

}  // namespace glintline
