#include "trace/plan_plates.h"

#include <gtest/gtest.h>

#include <opencv2/imgproc.hpp>
#include <random>

namespace glintline {
namespace {

constexpr double kPitchMm = 0.05;
const cv::Scalar kBench(40, 55, 70);
const cv::Scalar kSteel(150, 150, 150);
const cv::Scalar kGap(15, 15, 15);

/// Two straps and a drive link between dark gaps, along the whole band, and ends of straps that break them.
cv::Mat links(int columns = 520) {
  cv::Mat band(216, columns, CV_8UC3, kBench);
  cv::rectangle(band, cv::Rect(0, 76, columns, 62), kGap, cv::FILLED);
  for (const int y : {78, 98, 118}) cv::rectangle(band, cv::Rect(0, y, columns, 16), kSteel, cv::FILLED);
  for (const int x : {60, 330, 470}) {
    cv::rectangle(band, cv::Rect(x, 70, 30, 27), kSteel, cv::FILLED);
    cv::rectangle(band, cv::Rect(x, 116, 30, 27), kSteel, cv::FILLED);
  }
  return band;
}

/// A top plate over them: rear end at column 150 and so many further on, working corner at (330, 60). `edge` is how far
/// the working corner leads the edge's inner end.
void add_plate(cv::Mat& band, int further = 0, int edge = 58) {
  const std::vector<cv::Point> plate{
      {150 + further, 64}, {330 + further, 60}, {330 - edge + further, 150}, {150 + further, 148}};
  cv::fillConvexPoly(band, plate, cv::Scalar(190, 190, 190), cv::LINE_AA);
}

PlanBand band_of(cv::Mat bgr) {
  cv::GaussianBlur(bgr, bgr, cv::Size(3, 3), 0);
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0, 2);
  for (int j = 0; j < bgr.rows; ++j) {
    for (int i = 0; i < bgr.cols; ++i) {
      for (int c = 0; c < 3; ++c) {
        uchar& v = bgr.at<cv::Vec3b>(j, i)[c];
        v = cv::saturate_cast<uchar>(v + noise(random));
      }
    }
  }
  PlanBand band;
  band.frame.mm_per_px = kPitchMm;
  band.bgr = bgr;
  band.field = cv::Mat(bgr.size(), CV_8U, cv::Scalar(0));
  return band;
}

TEST(PlanPlates, FindsThePlateOverItsLinks) {
  cv::Mat picture = links();
  add_plate(picture);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  const PlateCandidate& plate = found.plates[0];
  EXPECT_TRUE(plate.runs_forward());
  EXPECT_NEAR(plate.front[0].x(), 330, 6);
  EXPECT_NEAR(plate.front[0].y(), 60, 4);
  EXPECT_NEAR((plate.rear[0].x() + plate.rear[1].x()) / 2, 150, 4);
  ASSERT_EQ(found.links.size(), 2U);
  const Point2 way = found.links[1] - found.links[0];
  EXPECT_NEAR(way.y() / way.x(), 0, 0.003) << "the links lie level";
}

// The edges of a block that is askew to the links: where they grow longer the direction passes from the links' to the
// block's, and where both gather as many places neither is told.
TEST(PlanPlates, TellsNoDirectionWhereTwoAreAsLikely) {
  constexpr double kAskew = 16.0 / 519;
  int untold = 0;
  for (int length = 200; length < 520; length += 12) {
    cv::Mat picture = links();
    for (const int y : {14, 30, 182, 198}) {
      const int end = y + cvRound(kAskew * length);
      cv::fillConvexPoly(picture, std::vector<cv::Point>{{0, y}, {length, end}, {length, end + 8}, {0, y + 8}}, kGap);
    }
    add_plate(picture);
    const FoundPlates found = find_plates(band_of(picture));
    if (found.links.empty()) {
      ++untold;
      continue;
    }
    const Point2 way = found.links[1] - found.links[0];
    EXPECT_NEAR(way.y() / way.x(), untold == 0 ? 0 : kAskew, 0.003) << length;
  }
  EXPECT_GT(untold, 0);
}

// Cutters are four pitches apart, on a chain with one on every link two; ends of links that are a few degrees askew
// make outlines too, but poor ones.
TEST(PlanPlates, FindsEveryCutterOfAChainAndNothingBetween) {
  for (const double apart_mm : {16.0, 33.0}) {
    cv::Mat picture = links(1100);
    add_plate(picture);
    add_plate(picture, static_cast<int>(apart_mm / kPitchMm));
    EXPECT_EQ(find_plates(band_of(picture)).plates.size(), 2U) << apart_mm;
  }
  cv::Mat picture = links(1100);
  add_plate(picture);
  add_plate(picture, 330, 13);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].x(), 330, 6);
}

// Slot, squares and block have longer and straighter edges across the chain than any rear end.
TEST(PlanPlates, FindsARearEndAmongLongerEdgesAcrossTheChain) {
  cv::Mat picture = links();
  for (const int x : {8, 24, 446, 462, 478}) {
    cv::rectangle(picture, cv::Rect(x, 0, 8, picture.rows), x % 3 == 0 ? kGap : kSteel, cv::FILLED);
  }
  add_plate(picture);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].x(), 330, 6);
  EXPECT_NEAR((found.plates[0].rear[0].x() + found.plates[0].rear[1].x()) / 2, 150, 4);
}

// A drive link with the straps beside it is longer than any plate is new.
TEST(PlanPlates, TakesNoLongerOutlineBetweenTwoCuttersForAThird) {
  cv::Mat picture = links(1100);
  add_plate(picture);
  add_plate(picture, static_cast<int>(33 / kPitchMm));
  const int rear = 480;
  const int length = static_cast<int>(12 / kPitchMm);
  const std::vector<cv::Point> pieces{{rear, 64}, {rear + length, 60}, {rear + length - 29, 150}, {rear, 148}};
  cv::fillConvexPoly(picture, pieces, cv::Scalar(168, 168, 168), cv::LINE_AA);
  EXPECT_EQ(find_plates(band_of(picture)).plates.size(), 2U);
}

// A plate reaches over the slot's rim: its side lies beside the field, where most edges are the rim's and count half,
// and a crumb hides an eighth of it.
TEST(PlanPlates, FindsASideThatLiesOverTheField) {
  const cv::Scalar field(190, 80, 20);
  cv::Mat picture = links();
  cv::rectangle(picture, cv::Rect(0, 0, picture.cols, 70), field, cv::FILLED);
  add_plate(picture);
  const cv::Rect crumb(200, 46, 22, 24);
  cv::rectangle(picture, crumb, cv::Scalar(190, 190, 190), cv::FILLED);
  PlanBand band = band_of(picture);
  cv::rectangle(band.field, cv::Rect(0, 0, picture.cols, 70), 255, cv::FILLED);
  cv::fillConvexPoly(band.field, std::vector<cv::Point>{{150, 64}, {330, 60}, {325, 72}, {150, 72}}, 0);
  cv::rectangle(band.field, crumb, 0, cv::FILLED);
  const FoundPlates found = find_plates(band);
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].y(), 60, 4);
}

// A semi-chisel's bend shines less than its flat: the side is where the bend ends, not where the flat does.
TEST(PlanPlates, TakesTheBendOfARoundedSideWithThePlate) {
  cv::Mat picture = links();
  add_plate(picture);
  const std::vector<cv::Point> bend{{150, 64}, {330, 60}, {334, 40}, {156, 44}};
  cv::fillConvexPoly(picture, bend, cv::Scalar(120, 120, 120), cv::LINE_AA);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].y(), 40, 3);
  EXPECT_NEAR(found.plates[0].rear[0].y(), 44, 3);
}

// A flat that mirrors a lamp ends where the rounded rims turn away, at the rear and towards the bend: the rear end found
// is the image's, 0.3 mm inside the true one that the bend reaches back to.
TEST(PlanPlates, TakesTheBendWithAPlateWhoseRearEndIsALampsImages) {
  cv::Mat picture = links();
  const std::vector<cv::Point> metal{{144, 38}, {334, 34}, {330, 60}, {272, 151}, {144, 149}};
  cv::fillConvexPoly(picture, metal, cv::Scalar(105, 110, 115), cv::LINE_AA);
  const std::vector<cv::Point> flash{{150, 64}, {330, 60}, {272, 150}, {150, 148}};
  cv::fillConvexPoly(picture, flash, cv::Scalar(250, 250, 250), cv::LINE_AA);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].y(), 34, 3);
  EXPECT_NEAR(found.plates[0].rear[0].y(), 38, 3);
}

// A shadow beside the plate has a side along the chain too, but runs on past the rear end.
TEST(PlanPlates, TakesNoShadowBesideAPlateForItsBend) {
  cv::Mat picture = links();
  cv::rectangle(picture, cv::Rect(0, 44, 360, 20), kBench / 2, cv::FILLED);
  add_plate(picture);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].y(), 60, 4);
  EXPECT_NEAR(found.plates[0].rear[0].y(), 64, 4);
}

// Nor one over a coarse grain, some of which lies about where the rear end would go on: so does some behind it.
TEST(PlanPlates, TakesNoGrainBesideAPlateForARearEndThatGoesOn) {
  cv::Mat picture = links();
  cv::rectangle(picture, cv::Rect(0, 44, 360, 20), kBench / 2, cv::FILLED);
  for (const int y : {46, 52, 58}) {
    for (const int x : {114, 145}) cv::rectangle(picture, cv::Rect(x + y % 7, y, 9, 2), kBench * 2, cv::FILLED);
  }
  add_plate(picture);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].y(), 60, 4);
}

// A mirror-bright plate that shows a ring's image over the half of it: white there, dark grey beside it.
TEST(PlanPlates, FindsAMirrorBrightPlateUnderALampsImage) {
  cv::Mat picture = links();
  const std::vector<cv::Point> plate{{150, 64}, {330, 60}, {272, 150}, {150, 148}};
  cv::Mat mirror(picture.size(), CV_8UC3, cv::Scalar(125, 125, 125));
  cv::ellipse(mirror, cv::Point(215, 165), cv::Size(115, 62), 0, 0, 360, cv::Scalar(255, 255, 255), cv::FILLED, cv::LINE_AA);
  cv::Mat inside(picture.size(), CV_8U, cv::Scalar(0));
  cv::fillConvexPoly(inside, plate, cv::Scalar(255));
  mirror.copyTo(picture, inside);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].x(), 330, 6);
  EXPECT_NEAR((found.plates[0].rear[0].x() + found.plates[0].rear[1].x()) / 2, 150, 4);
}

// A mirror-bright flat that shows the card's rim, parallel to its rear end, and a shadow over one side behind it: that
// line may be the rear end. The edge is the same for both.
TEST(PlanPlates, TellsADoubtfulRearEndFromADoubtfulEdge) {
  cv::Mat picture = links();
  add_plate(picture);
  const PlateCandidate plain = find_plates(band_of(picture.clone())).plates[0];
  EXPECT_LT(plain.rear_rival, 0.8 * plain.score);
  cv::Mat flat(picture.size(), CV_8U, cv::Scalar(0));
  cv::fillConvexPoly(flat, std::vector<cv::Point>{{151, 65}, {195, 64}, {195, 148}, {151, 147}}, cv::Scalar(255));
  picture.setTo(cv::Scalar(120, 120, 120), flat);
  cv::rectangle(picture, cv::Rect(160, 55, 35, 20), cv::Scalar(120, 120, 120), cv::FILLED);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_FALSE(found.plates.empty());
  EXPECT_GT(found.plates[0].rear_rival, plain.rear_rival);
  EXPECT_GT(found.plates[0].rear_rival, 0.9 * found.plates[0].score);
  EXPECT_LT(found.plates[0].rival, 0.9 * found.plates[0].score);
}

// A plate mirrors a lamp before its rear end, and the image's end, straight across the plate, parts its light more
// clearly than the rim does. Both sides go on beyond it.
TEST(PlanPlates, TakesTheFartherOfTwoRearEndsWithTheSameSides) {
  cv::Mat picture = links();
  add_plate(picture);
  const std::vector<cv::Point> image{{150, 64}, {166, 64}, {166, 148}, {150, 148}};
  cv::fillConvexPoly(picture, image, cv::Scalar(168, 168, 168), cv::LINE_AA);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR((found.plates[0].rear[0].x() + found.plates[0].rear[1].x()) / 2, 150, 4);
  EXPECT_LT(found.plates[0].rear_rival, 0.9 * found.plates[0].score);
}

// Straps that go on from a plate's sides, and something oblique far beyond, make a longer outline with the plate's rear
// end: more of it is supported by length, but less of it by share than of the plate's.
TEST(PlanPlates, PrefersAPlateToALongerOutlineOfPieces) {
  cv::Mat picture(216, 620, CV_8UC3, kBench);
  const std::vector<cv::Point> plate{{150, 64}, {330, 64}, {272, 150}, {150, 150}};
  cv::fillConvexPoly(picture, plate, cv::Scalar(150, 150, 150), cv::LINE_AA);
  // Half of the cutting edge lies over metal that looks like the plate.
  const std::vector<cv::Point> alike{{301, 107}, {272, 150}, {300, 135}, {330, 107}};
  cv::fillConvexPoly(picture, alike, cv::Scalar(150, 150, 150), cv::LINE_AA);
  constexpr int kDash = 18;
  for (int x = 290; x < 420; x += 24) {
    cv::rectangle(picture, cv::Rect(x, 64, kDash, 8), kSteel, cv::FILLED);
    cv::rectangle(picture, cv::Rect(x, 142, kDash, 8), kSteel, cv::FILLED);
  }
  const std::vector<cv::Point> oblique{{420, 64}, {440, 64}, {410, 110}, {390, 110}};
  cv::fillConvexPoly(picture, oblique, kSteel, cv::LINE_AA);
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_FALSE(found.plates.empty());
  EXPECT_NEAR(found.plates[0].front[0].x(), 330, 8);
  EXPECT_NEAR((found.plates[0].rear[0].x() + found.plates[0].rear[1].x()) / 2, 150, 4);
}

// A wear mark is engraved parallel to the edge; where the edge itself is dirty for a good part, only what lies on
// either side of both tells them apart.
TEST(PlanPlates, TakesNoEngravedMarkForTheEdge) {
  cv::Mat picture = links();
  add_plate(picture);
  cv::line(picture, {232, 63}, {176, 150}, cv::Scalar(60, 60, 60), 5, cv::LINE_AA);
  for (const int y : {80, 100, 120, 140}) {
    cv::circle(picture, {330 - (y - 60) * 58 / 90, y}, 4, cv::Scalar(120, 125, 130), cv::FILLED, cv::LINE_AA);
  }
  const FoundPlates found = find_plates(band_of(picture));
  ASSERT_EQ(found.plates.size(), 1U);
  EXPECT_NEAR(found.plates[0].front[0].x(), 330, 8);
  EXPECT_LT(found.plates[0].rival, 0.9 * found.plates[0].score);
}

TEST(PlanPlates, TakesNoStrapsForAPlate) { EXPECT_TRUE(find_plates(band_of(links())).plates.empty()); }

// Straps and gaps with a straight end and an oblique one have a plate's outline but not its even surface.
TEST(PlanPlates, TakesNoStripesWithAPlatesOutlineForAPlate) {
  cv::Mat picture(216, 520, CV_8UC3, kBench);
  cv::Mat stripes(216, 520, CV_8UC3, kGap);
  for (const int y : {62, 92, 122}) cv::rectangle(stripes, cv::Rect(0, y, 520, 14), kSteel, cv::FILLED);
  cv::Mat inside(picture.size(), CV_8U, cv::Scalar(0));
  const std::vector<cv::Point> plate{{150, 62}, {330, 62}, {272, 136}, {150, 136}};
  cv::fillConvexPoly(inside, plate, cv::Scalar(255));
  stripes.copyTo(picture, inside);
  EXPECT_TRUE(find_plates(band_of(picture)).plates.empty());
}

}  // namespace
}  // namespace glintline
