#include "trace/plan_side.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>
#include <random>

#include "math/statistics.h"

namespace glintline {
namespace {

constexpr double kPxPerMm = 60;
constexpr int kFlatEnd = 200;
const cv::Scalar kFlash(255, 255, 255);
const cv::Scalar kGround(118, 128, 138);

/// A plate's rear end, seen from above and blurred: columns are what lies outwards. The flat mirrors a lamp up to
/// kFlatEnd; from there its rim turns away for `rim_px` and mirrors something dim, then comes what lies below.
struct RearEnd {
  int rim_px = 0;
  cv::Scalar rim{150, 150, 150};
  bool ragged = false;  ///< grinding marks run out of the lamp's image
  int line_px = 0;      ///< unless 0, only so much of the flat mirrors the lamp: where it begins to bend
  bool links = false;   ///< of uneven brightness lie behind the plate
};

cv::Mat picture_of(const RearEnd& end) {
  cv::Mat bgr(320, 400, CV_8UC3, kGround);
  std::mt19937 random(3);
  std::uniform_int_distribution<int> even(0, 12);
  for (int j = 0; j < bgr.rows; ++j) {
    const int flash = kFlatEnd - (end.ragged ? even(random) : 0);
    bgr(cv::Rect(0, j, kFlatEnd + end.rim_px, 1)).setTo(end.rim);
    bgr(cv::Rect(0, j, flash, 1)).setTo(kFlash);
    if (end.line_px > 0) bgr(cv::Rect(0, j, flash - end.line_px, 1)).setTo(cv::Scalar(140, 145, 150));
  }
  std::uniform_real_distribution<double> shade(0, 18);
  for (int i = kFlatEnd + 28; end.links && i < bgr.cols; i += 2)
    bgr.colRange(i, i + 2) -= cv::Scalar::all(shade(random));
  cv::GaussianBlur(bgr, bgr, cv::Size(0, 0), 1.2);
  std::normal_distribution<double> noise(0, 1.5);
  for (int j = 0; j < bgr.rows; ++j) {
    for (int i = 0; i < bgr.cols; ++i) {
      for (int c = 0; c < 3; ++c) {
        uchar& v = bgr.at<cv::Vec3b>(j, i)[c];
        v = cv::saturate_cast<uchar>(v + noise(random));
      }
    }
  }
  return bgr;
}

SideTrace trace_of(const cv::Mat& bgr, double flash, double px_per_mm = kPxPerMm) {
  SideSearch search;
  search.from = Point2(kFlatEnd, 20);
  search.to = Point2(kFlatEnd, 300);
  search.outward = Point2::UnitX();
  search.reach_px = 0.25 * px_per_mm;
  search.clear_share = 0.25;
  search.rounded_rim = true;
  search.flash = flash;
  search.rim_px = 0.4 * px_per_mm;
  return trace_side(bgr, search);
}

double middle_of(const SideTrace& trace) {
  std::vector<double> at;
  for (const Point2& p : trace.points_px) at.push_back(p.x());
  return at.size() < 40 ? -1 : median(at);
}

double traced(const cv::Mat& bgr, double flash, double px_per_mm = kPxPerMm) {
  return middle_of(trace_of(bgr, flash, px_per_mm));
}

constexpr double kFlashLevel = 0.5;

// A rim is rounded, so that it cannot mirror the lamp that the flat mirrors: where the lamp's image ends the plate goes
// on, and its outline is the weak step beyond (a tenth of the light, against nine tenths).
TEST(PlanSide, LooksBeyondTheEndOfALampsImageForTheRim) {
  for (const int rim : {8, 11, 14}) {
    for (const bool ragged : {false, true}) {
      EXPECT_NEAR(traced(picture_of({rim, {165, 165, 165}, ragged}), kFlashLevel), kFlatEnd + rim - 0.5, 1.2)
          << rim << ragged;
    }
  }
}

// As far out as a third of a millimetre a clear line may as well be a link's end or a shadow's.
TEST(PlanSide, DoubtsAClearLineFartherOutThanMostRimsReach) {
  const SideTrace trace = trace_of(picture_of({20, {165, 165, 165}}), kFlashLevel);
  EXPECT_NEAR(middle_of(trace), kFlatEnd - 0.5 + 10, 1.5);
  EXPECT_NEAR(trace.half_range_px, 10, 1);
}

// A small lamp, or one that the flat itself turns away from the camera: only where the rim begins to bend is it
// mirrored.
TEST(PlanSide, LooksBeyondANarrowLineOfLightForTheRim) {
  RearEnd end{14, {165, 165, 165}};
  end.line_px = 3;
  EXPECT_NEAR(traced(picture_of(end), kFlashLevel), kFlatEnd + 14 - 0.5, 1.2);
}

// Before links of uneven brightness the rim's outline is one change among several: it is doubtful, and so is the end.
TEST(PlanSide, DoubtsARimBeforeUnevenLinks) {
  RearEnd end{14, {138, 145, 153}};
  end.links = true;
  const SideTrace trace = trace_of(picture_of(end), kFlashLevel);
  EXPECT_GT(trace.half_range_px, 4);
  EXPECT_NEAR(middle_of(trace), kFlatEnd + 7, 1.5);
  EXPECT_GE(middle_of(trace) + trace.half_range_px, kFlatEnd + 14 - 1.5);
}

// A sharp rim: the lamp's image reaches the outline, and nothing lies beyond.
TEST(PlanSide, KeepsALampsImagesEndWhereNothingLiesBeyond) {
  EXPECT_NEAR(traced(picture_of({0}), kFlashLevel), kFlatEnd - 0.5, 0.8);
}

// What does not mirror a lamp keeps its strongest step: a strap's end in shade behind it is no rim of it.
TEST(PlanSide, LooksNoFurtherBeyondAPlateThatMirrorsNoLamp) {
  EXPECT_NEAR(traced(picture_of({20, {150, 150, 150}}), 2), kFlatEnd - 0.5, 0.8);
}

// A coarse picture: within the search's own reach, a quarter of a millimetre, nothing would be left beyond the rim to
// tell its weak outline by.
TEST(PlanSide, FindsTheRimsOutlineInACoarsePicture) {
  for (const int rim : {3, 4, 5})
    EXPECT_NEAR(traced(picture_of({rim, {170, 175, 180}}), 2, 28), kFlatEnd + rim - 0.5, 0.8) << rim;
}

// A second step farther out than a rim of 0.4 mm mirrors anything may be a shadow's end, or the next part's.
TEST(PlanSide, DoubtsASecondStepFartherOutThanARimsMirrorStrip) {
  constexpr int kRimPx = 6;
  for (const double px_per_mm : {20.0, 24.0}) {
    const SideTrace trace = trace_of(picture_of({kRimPx, {170, 175, 180}}), 2, px_per_mm);
    EXPECT_TRUE(trace.rim_seen) << px_per_mm;
    EXPECT_NEAR(trace.half_range_px, kRimPx / 2.0, 0.6) << px_per_mm;
    EXPECT_NEAR(middle_of(trace), kFlatEnd + kRimPx / 2.0 - 0.5, 0.8) << px_per_mm;
  }
}

}  // namespace
}  // namespace glintline
