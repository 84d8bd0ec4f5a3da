#include "trace/strap_outline.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>
#include <vector>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.03;
constexpr double kPitchMm = 9.5;
constexpr double kPitchPx = kPitchMm / kMmPerPx;
const Point2 kRearRivet(300, 420);

cv::Point at(double pitches, double over) {
  return {cvRound(kRearRivet.x() + pitches * kPitchPx), cvRound(kRearRivet.y() - over * kPitchPx)};
}

/// A cutter's body as it is seen from outside, with grain: from under the rivets up to plate and gauge.
CutterScene bare_body() {
  CutterScene s;
  s.picture = cv::Mat(700, 1000, CV_8UC3, cv::Scalar(190, 70, 20));
  const std::vector<cv::Point> body{at(-0.38, -0.3), at(-0.34, 0.8), at(0.4, 0.9), at(0.45, 0.4), at(0.95, 0.4),
                                    at(1.1, 0.75),   at(1.3, 0.75),  at(1.4, 0.4), at(1.38, -0.3)};
  cv::fillPoly(s.picture, std::vector<std::vector<cv::Point>>{body}, cv::Scalar::all(130));
  s.solid = cv::Mat::zeros(s.picture.size(), CV_8U);
  cv::fillPoly(s.solid, std::vector<std::vector<cv::Point>>{body}, cv::Scalar(255));
  s.frame.mm_per_px = kMmPerPx;
  s.pitch_px = kPitchPx;
  s.rear_rivet = kRearRivet;
  return s;
}

void finish(CutterScene& s) {
  for (const double rivet : {0.0, 1.0}) {
    cv::circle(s.picture, at(rivet, 0), cvRound(0.25 * kPitchPx), cv::Scalar::all(160), cv::FILLED);
  }
  cv::GaussianBlur(s.picture, s.picture, {}, 0.9);
  std::mt19937 random(3);
  std::normal_distribution<double> noise(0, 3);
  for (int y = 0; y < s.picture.rows; ++y) {
    for (int x = 0; x < s.picture.cols; ++x) {
      auto& p = s.picture.at<cv::Vec3b>(y, x);
      const double n = noise(random);
      for (int c = 0; c < 3; ++c) p[c] = cv::saturate_cast<uchar>(p[c] + n);
    }
  }
}

/// The outline of a strap: `over` its rivets, waisted between them by `waist`, ends `end` beyond them; the shoulders
/// are quarters of circles. `front_over` of its front half.
std::vector<cv::Point> strap(double over, double waist, double end, double radius, double front_over) {
  std::vector<cv::Point> points{at(-end, -0.3)};
  for (double turn = 0; turn <= M_PI / 2; turn += 0.1) {
    points.push_back(at(-end + radius * (1 - std::sin(M_PI / 2 - turn)), over - radius * (1 - std::sin(turn))));
  }
  for (double u = 0; u <= 1; u += 0.02) {
    const double level = u < 0.7 ? over : front_over;
    points.push_back(at(u, level - waist * (1 - std::cos(2 * M_PI * u)) / 2));
  }
  for (double turn = M_PI / 2; turn >= 0; turn -= 0.1) {
    points.push_back(at(1 + end - radius * (1 - std::cos(turn)), front_over - radius * (1 - std::sin(turn))));
  }
  points.push_back(at(1 + end, -0.3));
  return points;
}

CutterScene with_strap(const std::vector<cv::Point>& outline, int grey) {
  CutterScene s = bare_body();
  cv::fillPoly(s.picture, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar::all(grey));
  cv::fillPoly(s.solid, std::vector<std::vector<cv::Point>>{outline}, cv::Scalar(255));
  finish(s);
  return s;
}

TEST(StrapOutline, ShowsWhateverTheStrapsSizeAndShade) {
  for (const int grey : {100, 160}) {
    EXPECT_GT(strap_outline(with_strap(strap(0.26, 0, 0.32, 0.15, 0.26), grey)).seen, 0.7) << grey;
    EXPECT_GT(strap_outline(with_strap(strap(0.34, 0.08, 0.4, 0.2, 0.34), grey)).seen, 0.7) << grey;
  }
}

TEST(StrapOutline, TellsWhereItsUpperEdgeRuns) {
  const StrapOutline found = strap_outline(with_strap(strap(0.34, 0.08, 0.35, 0.15, 0.34), 100));
  EXPECT_NEAR(found.upper_edge(0.1), 0.34 - 0.08 * (1 - std::cos(0.2 * M_PI)) / 2, 0.015);
  EXPECT_NEAR(found.upper_edge(0.5), 0.26, 0.015);
}

// One that rises ahead of the gullet shows its rear half only; one of the body's own shade, as a dark line of shadow.
TEST(StrapOutline, ShowsInParts) {
  EXPECT_GT(strap_outline(with_strap(strap(0.26, 0, 0.32, 0.15, 0.5), 100)).seen, 0.46);
  CutterScene s = bare_body();
  cv::polylines(s.picture, std::vector<std::vector<cv::Point>>{strap(0.26, 0, 0.32, 0.15, 0.26)}, true,
                cv::Scalar::all(70), 3);
  finish(s);
  EXPECT_GT(strap_outline(s).seen, 0.6);
}

TEST(StrapOutline, IsNotSeenOnABareBody) {
  CutterScene s = bare_body();
  finish(s);
  EXPECT_LT(strap_outline(s).seen, 0.35);
}

// What the steel mirrors crosses the whole body: the bench's rim, level or aslant, or a lamp's image with two rims.
// Such a line shows all of an upper edge and no shoulders.
TEST(StrapOutline, ShowsFarLessOfALineThatCrossesTheBody) {
  for (const double rise : {0.0, 0.02}) {
    for (const double thick : {0.06, 2.0}) {
      CutterScene s = bare_body();
      const std::vector<cv::Point> line{at(-0.5, 0.3 - rise), at(1.5, 0.3 + rise), at(1.5, 0.3 + rise - thick),
                                        at(-0.5, 0.3 - rise - thick)};
      cv::Mat there = cv::Mat::zeros(s.solid.size(), CV_8U);
      cv::fillPoly(there, std::vector<std::vector<cv::Point>>{line}, cv::Scalar(255));
      s.picture.setTo(cv::Scalar::all(190), there & s.solid);
      finish(s);
      EXPECT_LT(strap_outline(s).seen, 0.6) << rise << ' ' << thick;
    }
  }
}

}  // namespace
}  // namespace glintline
