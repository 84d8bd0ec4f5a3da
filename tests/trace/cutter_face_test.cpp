#include "trace/cutter_face.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.03;
constexpr double kPitchMm = 9.5;
const Point2 kRearRivet(300, 420);

/// A link seen from its inner side: body and gauge in one grey, a strap in another before them, both rivet heads. The
/// strap's front rises by `bumper_mm`, the plate's rear half is left out.
CutterScene inner_side(double bumper_mm) {
  const double pitch = kPitchMm / kMmPerPx;
  const auto at = [&](double pitches, double mm) {
    return cv::Point(static_cast<int>(kRearRivet.x() + pitches * pitch),
                     static_cast<int>(kRearRivet.y() - mm / kMmPerPx));
  };
  CutterScene s;
  s.picture = cv::Mat(700, 1000, CV_8UC3, cv::Scalar(190, 70, 20));
  const std::vector<cv::Point> body{at(-0.4, -3),  at(-0.4, 5.0), at(0.6, 5.0),
                                    at(0.95, 6.0), at(1.25, 6.0), at(1.35, -3)};
  cv::fillPoly(s.picture, std::vector<std::vector<cv::Point>>{body}, cv::Scalar(150, 150, 150));
  const std::vector<cv::Point> strap{at(-0.35, -2.7),
                                     at(-0.35, 1.6),
                                     at(-0.24, 2.7),
                                     at(0.7, 2.7),
                                     at(0.9, 2.7 + bumper_mm),
                                     at(1.24, 2.7 + bumper_mm),
                                     at(1.35, 1.6 + bumper_mm),
                                     at(1.35, -2.7)};
  cv::fillPoly(s.picture, std::vector<std::vector<cv::Point>>{strap}, cv::Scalar(95, 95, 95));
  for (const double rivet : {0.0, 1.0}) cv::circle(s.picture, at(rivet, 0), 70, cv::Scalar(120, 120, 120), cv::FILLED);
  cv::inRange(s.picture, cv::Scalar::all(90), cv::Scalar::all(160), s.solid);
  cv::GaussianBlur(s.picture, s.picture, {}, 0.9);
  s.frame.mm_per_px = kMmPerPx;
  s.pitch_px = pitch;
  s.rear_rivet = kRearRivet;
  return s;
}

/// The gauge's crown, or the bumper's where that stands higher.
Point2 crown(double bumper_mm) {
  return kRearRivet + Point2(1.1 * kPitchMm, -std::max(6.0, 2.7 + bumper_mm)) / kMmPerPx;
}

TEST(CutterFace, SeesAStrapGoOnUnderTheGauge) {
  const CutterScene s = inner_side(0);
  EXPECT_GT(edge_ahead(s, strap_outline(s)), 0.5);
  EXPECT_GT(edge_under(s, crown(0)), 0.5);
}

TEST(CutterFace, SeesAGaugeOverABumperThatIsLower) {
  const CutterScene low = inner_side(1.6);
  EXPECT_LT(edge_ahead(low, strap_outline(low)), 0.15);
  EXPECT_GT(edge_under(low, crown(1.6)), 0.5);
}

TEST(CutterFace, SeesNothingButTheStrapWhereABumperHidesTheGauge) {
  const CutterScene high = inner_side(4.0);
  EXPECT_LT(edge_ahead(high, strap_outline(high)), 0.15);
  EXPECT_LT(edge_under(high, crown(4.0)), 0.4);
}

// Skylines over a gullet's ground of 2.5 mm: a bumper that rises by 40 degrees and hides the gauge has one slope; a
// gauge stands up steeply from a bumper before it, and from a level strap.
TEST(CutterFace, TellsHowSteeplyAGaugeStandsUp) {
  const auto slope = [](const std::function<double(double)>& height_mm) {
    CutterScene s;
    s.frame.mm_per_px = kMmPerPx;
    std::vector<int> top;
    for (int x = 0; x < 400; ++x)
      top.push_back(500 - static_cast<int>(std::lround(height_mm(x * kMmPerPx) / kMmPerPx)));
    const int gauge = static_cast<int>(std::min_element(top.begin(), top.end()) - top.begin());
    return flank_slope(s, top, 30, gauge);
  };
  const auto bumper = [](double x) { return std::clamp(2.5 + 0.84 * (x - 3), 2.5, 4.6); };
  const auto gauge = [](double from, double ground) {
    return [from, ground](double x) { return std::clamp(ground + 2.1 * (x - from), ground, 5.4); };
  };
  EXPECT_NEAR(slope(bumper), 0.84, 0.1);
  EXPECT_NEAR(slope([&](double x) { return std::max(bumper(x), gauge(6.5, 4.6)(x)); }), 2.1, 0.3);
  EXPECT_NEAR(slope(gauge(5, 2.5)), 2.1, 0.3);
  EXPECT_EQ(slope([](double) { return 2.5; }), 0);
}

/// A top plate over a body, from its outline down: `top_mm` of a dark top, then a bright face; `plate_mm` under the
/// face's upper rim a shadow, 0: none.
CutterScene plate_over_body(double top_mm, double plate_mm) {
  CutterScene s = inner_side(0);
  s.picture.setTo(cv::Scalar(190, 70, 20));
  const auto band = [&](double from_mm, double to_mm, int grey) {
    cv::rectangle(s.picture, cv::Point(300, 150 + cvRound(from_mm / kMmPerPx)),
                  cv::Point(560, 150 + cvRound(to_mm / kMmPerPx)), cv::Scalar(grey, grey, grey), cv::FILLED);
  };
  band(0, top_mm, 60);
  band(top_mm, 8, 170);
  if (plate_mm > 0) band(top_mm + plate_mm, 8, 80);
  cv::GaussianBlur(s.picture, s.picture, {}, 0.9);
  return s;
}

TEST(CutterFace, SeesTheUndersideOfAPlateWhoseTopIsSeenAsWell) {
  const PlateStretch plate{{Point2(300, 150), Point2(1, 0)}, 310, 550};
  EXPECT_GT(underside_edge(plate_over_body(0, 1.4), plate, 0), 0.5);
  EXPECT_GT(underside_edge(plate_over_body(0.75, 1.4), plate, 0.9), 0.5);
}

// A lamp's image under a top ends like an underside, but as bright as a picture can show.
TEST(CutterFace, TakesALampsImageForNoUnderside) {
  const auto seen = [](int level) {
    CutterScene s = plate_over_body(0, 1.4);
    cv::Mat there;
    cv::inRange(s.picture, cv::Scalar::all(165), cv::Scalar::all(170), there);
    s.picture.setTo(cv::Scalar::all(level), there);
    return s;
  };
  const PlateStretch plate{{Point2(300, 150), Point2(1, 0)}, 310, 550};
  EXPECT_GT(underside_edge(seen(225), plate, 0), 0.7);
  EXPECT_LT(underside_edge(seen(255), plate, 0), 0.5);
}

// Grey 170 over grey 80, decoded from sRGB (IEC 61966-2-1): 0.402 over 0.080, a logarithm of 1.61.
TEST(CutterFace, TellsByHowMuchTheMiddleIsDarker) {
  const PlateStretch plate{{Point2(300, 150), Point2(1, 0)}, 310, 550};
  EXPECT_NEAR(recess_under(plate_over_body(0, 1.4), plate, 0), 1.61, 0.05);
  EXPECT_NEAR(recess_under(plate_over_body(0, 0), plate, 0), 0, 0.02);
  EXPECT_NEAR(recess_under(plate_over_body(0.75, 0), plate, 0.9), 0, 0.02) << "a dark top is none of the face";
}

TEST(CutterFace, TakesATopsNearRimForNoUnderside) {
  const PlateStretch plate{{Point2(300, 150), Point2(1, 0)}, 310, 550};
  // An 8 degrees' look down on 6.5 mm of top at most; this one is 6.3 mm wide and shows 0.88 of them.
  const CutterScene outer = plate_over_body(0.88, 0);
  EXPECT_GT(underside_edge(outer, plate, 0), 0.3);
  EXPECT_LT(underside_edge(outer, plate, 0.91), 0.1);
}

}  // namespace
}  // namespace glintline
