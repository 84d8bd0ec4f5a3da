#include "trace/lumps.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>

namespace glintline {
namespace {

constexpr double kMmPerPx = 0.02;

/// A skyline of 8 mm, 400 columns, from heights in mm as a function of the place in mm.
std::vector<int> skyline_of(const std::function<double(double)>& height) {
  std::vector<int> top;
  for (int x = 0; x < 400; ++x) top.push_back(400 - static_cast<int>(std::lround(height(x * kMmPerPx) / kMmPerPx)));
  return top;
}

// Depth gauges from 2 to 5.5 mm: flat, ramped and round, all with steep flanks.
double flat(double x) { return std::clamp(4 * std::min(x - 1.5, 6 - x), 0.0, 3.0); }
double ramp(double x) { return std::min(flat(x), 3.0 - 0.25 * std::max(0.0, x - 3)); }
double round_crown(double x) { return std::max(0.0, 3 - (x - 3.75) * (x - 3.75) / 2.4); }

int marked(const std::vector<bool>& lump) { return static_cast<int>(std::count(lump.begin(), lump.end(), true)); }

TEST(Lumps, LeavesBareGaugesAlone) {
  for (const auto& gauge : {flat, ramp, round_crown}) {
    EXPECT_EQ(marked(lumps_on(skyline_of(gauge), 0, 400, kMmPerPx)), 0);
  }
}

// A curl of sawdust 0.9 mm long and 0.4 mm thick, in the middle of the gauge or hanging over its rear end.
TEST(Lumps, MarksSawdustOnAGauge) {
  for (const auto& gauge : {flat, ramp, round_crown}) {
    for (const double at : {3.2, 4.1}) {
      const auto lump = lumps_on(
          skyline_of([&](double x) { return gauge(x) + (std::abs(x - at) < 0.45 ? 0.4 : 0.0); }), 0, 400, kMmPerPx);
      for (double x = at - 0.43; x < at + 0.44; x += 0.02) EXPECT_TRUE(lump[std::lround(x / kMmPerPx)]) << at << " " << x;
      EXPECT_LT(marked(lump) * kMmPerPx, 0.9 + 0.35) << "hardly more than itself";
    }
  }
  const auto hanging = lumps_on(
      skyline_of([](double x) { return x > 1.6 && x < 2.7 ? std::max(flat(x), 3.5) : flat(x); }), 0, 400, kMmPerPx);
  EXPECT_TRUE(hanging[std::lround(2.0 / kMmPerPx)]);
  EXPECT_TRUE(hanging[std::lround(2.6 / kMmPerPx)]);
  EXPECT_FALSE(hanging[std::lround(3.2 / kMmPerPx)]);
}

/// A gauge's body, grey or rusty at its crown, and a crumb of light wood that leans on its slanting rear flank.
struct CrumbScene {
  CutterScene scene;
  std::vector<int> top;
};

CrumbScene crumb_on_flank(const cv::Scalar& crumb, bool rusty_crown) {
  constexpr int kSide = 500;
  CrumbScene out;
  out.scene.picture = cv::Mat(kSide, kSide, CV_8UC3, cv::Scalar(190, 70, 20));
  out.scene.frame.mm_per_px = kMmPerPx;
  out.scene.pitch_px = 300;
  out.scene.rear_rivet = {60, 460};
  out.scene.solid = cv::Mat::zeros(kSide, kSide, CV_8U);
  const auto shape = [&](const std::vector<cv::Point>& polygon, const cv::Scalar& colour) {
    cv::fillPoly(out.scene.picture, std::vector<std::vector<cv::Point>>{polygon}, colour);
    cv::fillPoly(out.scene.solid, std::vector<std::vector<cv::Point>>{polygon}, 255);
  };
  shape({{0, 330}, {200, 330}, {320, 240}, {460, 240}, {499, 330}, {499, 499}, {0, 499}}, {110, 118, 122});
  if (rusty_crown) shape({{350, 240}, {420, 240}, {420, 290}, {350, 290}}, {40, 80, 140});
  shape({{262, 282}, {242, 262}, {200, 310}, {222, 318}}, crumb);
  shape({{222, 250}, {236, 240}, {268, 282}, {252, 292}}, crumb);
  out.top = skyline(out.scene.solid);
  return out;
}

TEST(Lumps, LeavesOutACrumbOfWoodThatLeansOnAFlank) {
  const CrumbScene c = crumb_on_flank({90, 160, 215}, false);
  const auto lump = sawdust_on(c.scene, c.top, 150, 480);
  EXPECT_TRUE(lump[230]);
  EXPECT_FALSE(lump[330]);
  EXPECT_FALSE(lump[440]);
}

// A third of a millimetre long and half as high, where a gauge filed aslant rises: neither of its sides is steep.
TEST(Lumps, LeavesOutASmallCrumbOnAGaugesTop) {
  CrumbScene c = crumb_on_flank({110, 118, 122}, false);
  const int length = static_cast<int>(0.4 / kMmPerPx);
  const int height = static_cast<int>(0.16 / kMmPerPx);
  const std::vector<cv::Point> crumb{{380, 242}, {380 + length * 2 / 3, 240 - height}, {380 + length, 242}};
  cv::fillPoly(c.scene.picture, std::vector<std::vector<cv::Point>>{crumb}, cv::Scalar(90, 160, 215));
  cv::fillPoly(c.scene.solid, std::vector<std::vector<cv::Point>>{crumb}, 255);
  c.top = skyline(c.scene.solid);
  const auto lump = sawdust_on(c.scene, c.top, 150, 480);
  EXPECT_TRUE(lump[380 + length * 2 / 3]);
  EXPECT_FALSE(lump[350]);
  EXPECT_FALSE(lump[430]);
}

TEST(Lumps, KeepsACrownThatIsRusty) {
  const CrumbScene c = crumb_on_flank({110, 118, 122}, true);
  const auto lump = sawdust_on(c.scene, c.top, 150, 480);
  for (int x = 330; x < 450; ++x) EXPECT_FALSE(lump[x]) << x;
}

/// A plate whose front runs back below, steel or rusty there, and a strip of wood that stands out from behind it.
std::vector<bool> crumbs_at_front(bool rusty, int ahead_px) {
  CutterScene s;
  s.picture = cv::Mat(500, 500, CV_8UC3, cv::Scalar(190, 70, 20));
  s.frame.mm_per_px = kMmPerPx;
  s.pitch_px = 300;
  s.rear_rivet = {60, 460};
  s.solid = cv::Mat::zeros(s.picture.size(), CV_8U);
  const auto shape = [&](const std::vector<cv::Point>& polygon, const cv::Scalar& colour) {
    cv::fillPoly(s.picture, std::vector<std::vector<cv::Point>>{polygon}, colour);
    cv::fillPoly(s.solid, std::vector<std::vector<cv::Point>>{polygon}, 255);
  };
  if (ahead_px > 0) shape({{250, 170}, {300 + ahead_px, 170}, {300 + ahead_px, 195}, {250, 195}}, {90, 160, 215});
  shape({{20, 100}, {300, 100}, {270, 300}, {499, 340}, {499, 499}, {20, 499}}, {110, 118, 122});
  if (rusty) shape({{250, 140}, {294, 140}, {285, 200}, {250, 200}}, {40, 80, 140});
  std::vector<int> front;
  for (int y = 101; y < 221; ++y) {
    int x = 400;
    while (!s.solid.at<uchar>(y, x)) --x;
    front.push_back(x);
  }
  return crumbs_before(s, front, 101);
}

TEST(Lumps, LeavesOutACrumbThatStandsAheadOfAFront) {
  const auto crumb = crumbs_at_front(false, 20);
  for (int y = 170; y <= 195; ++y) EXPECT_TRUE(crumb[y - 101]) << y;
  EXPECT_LT(marked(crumb), 26 + 20);
}

TEST(Lumps, KeepsAFrontThatIsBareOrRusty) {
  EXPECT_EQ(marked(crumbs_at_front(false, 0)), 0);
  EXPECT_EQ(marked(crumbs_at_front(true, 0)), 0);
}

TEST(Lumps, NeedsASkyline) { EXPECT_TRUE(lumps_on({}, 0, 10, kMmPerPx).empty()); }

}  // namespace
}  // namespace glintline
