#include "trace/cutter_search.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>
#include <string>
#include <vector>

namespace glintline {
namespace {

/// A chain drawn as silhouettes: link bodies, cutters, tangs of the drive links on the bar's side.
struct DrawnChain {
  double pitch_px = 62;
  int rivets = 9;
  std::vector<int> cutters{1, 5};  ///< index of the rivet nearest to the drawing's start below each cutter
  bool runs_back = false;          ///< against the row's order
  bool up_is_left = true;
  double heading_rad = 0.04;
  double drop = 0.07;              ///< pitches
  double plate_front = 0.38;       ///< pitches ahead of the rear rivet
  double plate_z = 0.77;           ///< height of the plate's front, pitches
  double plate_rear_z = 0.7;       ///< height of the plate's rear end, pitches
  bool gauges = true;
  bool tangs = true;
  Point2 first{60, 260};

  [[nodiscard]] Point2 along() const { return {std::cos(heading_rad), std::sin(heading_rad)}; }
  [[nodiscard]] Point2 up() const { return up_is_left ? Point2(along().y(), -along().x()) : Point2(-along().y(), along().x()); }
  [[nodiscard]] Point2 at(double pitches, double z) const {
    return first + pitch_px * (pitches * along() + z * up());
  }
};

void fill(cv::Mat& picture, const DrawnChain& chain, const std::vector<Point2>& shape) {
  std::vector<cv::Point> polygon;
  for (const Point2& p : shape) {
    const Point2 at = chain.at(p.x(), p.y());
    polygon.emplace_back(cvRound(at.x()), cvRound(at.y()));
  }
  cv::fillPoly(picture, std::vector<std::vector<cv::Point>>{polygon}, 255);
}

cv::Mat drawn(const DrawnChain& chain) {
  cv::Mat picture = cv::Mat::zeros(520, 660, CV_8U);
  fill(picture, chain, {{-0.4, -0.3}, {chain.rivets - 0.6, -0.3}, {chain.rivets - 0.6, 0.32}, {-0.4, 0.32}});
  for (const int start : chain.cutters) {
    // Seen from the rear rivet towards the front one.
    const double way = chain.runs_back ? -1 : 1;
    const double rear = chain.runs_back ? start + 1 : start;
    const auto place = [&](double u, double z) { return Point2(rear + way * u, z); };
    fill(picture, chain,
         {place(-0.42, 0.3), place(-0.42, chain.plate_rear_z), place(chain.plate_front, chain.plate_z),
          place(chain.plate_front - 0.04, 0.5), place(chain.plate_front - 0.1, 0.3)});
    if (chain.gauges) {
      fill(picture, chain,
           {place(0.8, 0.3), place(1.0, chain.plate_z - chain.drop), place(1.2, chain.plate_z - chain.drop),
            place(1.3, 0.3)});
    }
  }
  for (int i = 0; chain.tangs && i + 1 < chain.rivets; i += 2) {
    // Tangs stand singly, on the bar's side.
    fill(picture, chain, {{i + 0.2, -0.25}, {i + 0.35, -0.85}, {i + 0.65, -0.85}, {i + 0.8, -0.25}});
  }
  return picture;
}

RivetRow row_of(const DrawnChain& chain) {
  RivetRow row;
  for (int i = 0; i < chain.rivets; ++i) row.centres.push_back(chain.at(i, 0));
  row.spacing = chain.pitch_px;
  return row;
}

/// Two tangs with the open space between them look like plate, gullet and gauge, but alike either way round: such a
/// place has next to no evidence for a direction, where a cutter's is several times this.
constexpr double kFaint = 0.2;

void expect_faint_at_most(const std::vector<CutterPattern>& patterns) {
  if (patterns.empty()) return;
  const CutterPattern& pattern = patterns.front();
  for (const CutterPlace& place : pattern.places) EXPECT_LT(place.forward, kFaint);
}

void expect_found(const std::vector<CutterPattern>& patterns, const DrawnChain& chain, const std::string& what) {
  ASSERT_FALSE(patterns.empty()) << what;
  const CutterPattern& pattern = patterns.front();
  ASSERT_EQ(pattern.places.size(), chain.cutters.size()) << what;
  EXPECT_EQ(pattern.up_is_left, chain.up_is_left) << what;
  EXPECT_EQ(pattern.runs_back, chain.runs_back) << what;
  for (std::size_t i = 0; i < pattern.places.size(); ++i) {
    // Places come in running order.
    const int start = chain.runs_back ? chain.cutters[chain.cutters.size() - 1 - i] : chain.cutters[i];
    EXPECT_EQ(pattern.places[i].rear, chain.runs_back ? start + 1 : start) << what;
    EXPECT_EQ(pattern.places[i].front, chain.runs_back ? start : start + 1) << what;
    EXPECT_GT(pattern.places[i].clarity, 0) << what;
    EXPECT_GT(pattern.places[i].forward, kFaint) << what;
  }
}

TEST(CutterSearch, FindsCuttersInBothDirectionsAndOnBothSides) {
  for (const bool back : {false, true}) {
    for (const bool left : {false, true}) {
      for (const double heading : {-0.15, 0.0, 0.1}) {
        DrawnChain chain;
        chain.runs_back = back;
        chain.up_is_left = left;
        chain.heading_rad = heading;
        expect_found(find_cutters(drawn(chain), row_of(chain)), chain,
                     std::string(back ? "back " : "on ") + (left ? "left " : "right ") + std::to_string(heading));
      }
    }
  }
}

TEST(CutterSearch, FindsCuttersWithGaugesFiledLowAndStillHigh) {
  for (const double drop : {0.03, 0.05, 0.1}) {
    DrawnChain chain;
    chain.drop = drop;
    expect_found(find_cutters(drawn(chain), row_of(chain)), chain, std::to_string(drop));
  }
}

// A long plate slopes down to its rear, which is all of it that lies where the gauge would be were the chain running
// the other way; the gauge still stands as high as the plate's front.
TEST(CutterSearch, TellsANewPlateFromAGaugeThatStandsAsHigh) {
  for (const bool back : {false, true}) {
    DrawnChain chain;
    chain.runs_back = back;
    chain.plate_front = 0.54;
    chain.plate_z = 0.61;
    chain.plate_rear_z = 0.5;
    chain.drop = 0;
    const auto patterns = find_cutters(drawn(chain), row_of(chain));
    ASSERT_FALSE(patterns.empty());
    EXPECT_EQ(patterns.front().runs_back, back);
    EXPECT_EQ(patterns.front().up_is_left, chain.up_is_left);
    EXPECT_EQ(patterns.front().places.size(), chain.cutters.size());
  }
}

TEST(CutterSearch, TellsPairsOfTangsFromCuttersByTheirEvidence) {
  DrawnChain chain;
  chain.cutters.clear();
  expect_faint_at_most(find_cutters(drawn(chain), row_of(chain)));
}

TEST(CutterSearch, TakesATopPlateWithoutAGaugeForNoCutter) {
  DrawnChain chain;
  chain.gauges = false;
  expect_faint_at_most(find_cutters(drawn(chain), row_of(chain)));
  chain.tangs = false;
  EXPECT_TRUE(find_cutters(drawn(chain), row_of(chain)).empty());
}

TEST(CutterSearch, FindsTheCutterThatLiesInsideTheField) {
  DrawnChain chain;
  cv::Mat picture = drawn(chain);
  // The second cutter lies over the squares, where nothing is known.
  picture(cv::Rect(cvRound(chain.at(4.2, 0).x()), 0, picture.cols - cvRound(chain.at(4.2, 0).x()), picture.rows)) = 128;
  chain.cutters = {1};
  expect_found(find_cutters(picture, row_of(chain)), chain, "one inside");
}

TEST(CutterSearch, MeasuresNoCutterWhoseTopIsOutsideTheField) {
  DrawnChain chain;
  cv::Mat picture = drawn(chain);
  const cv::Rect above(0, 0, picture.cols, cvRound(chain.at(4, 0.5).y()));
  picture(above) = 128;
  expect_faint_at_most(find_cutters(picture, row_of(chain)));
  chain.tangs = false;
  picture = drawn(chain);
  picture(above) = 128;
  EXPECT_TRUE(find_cutters(picture, row_of(chain)).empty());
}

TEST(CutterSearch, SkipsALinkWithAMissingHead) {
  DrawnChain chain;
  RivetRow row = row_of(chain);
  row.centres.erase(row.centres.begin() + 2);  // the front rivet of the first cutter
  const std::vector<CutterPattern> patterns = find_cutters(drawn(chain), row);
  ASSERT_FALSE(patterns.empty());
  const CutterPattern& pattern = patterns.front();
  ASSERT_EQ(pattern.places.size(), 1U);
  EXPECT_EQ(pattern.places[0].rear, 4);  // the second cutter's rear rivet, one index down
  EXPECT_EQ(pattern.places[0].front, 5);
}

// Where both sides look like cutters, both are offered: tracing tells a border that tangs reach over from a plate.
TEST(CutterSearch, OffersBothSidesWhereBothLookLikeCutters) {
  DrawnChain chain;
  chain.tangs = false;
  DrawnChain mirrored = chain;
  mirrored.up_is_left = !chain.up_is_left;
  mirrored.cutters = {1};
  const cv::Mat both = drawn(chain) | drawn(mirrored);
  const auto patterns = find_cutters(both, row_of(chain));
  ASSERT_EQ(patterns.size(), 1U) << "one cutter is no more than half as likely as two";
  mirrored.cutters = chain.cutters;
  const auto alike = find_cutters(drawn(chain) | drawn(mirrored), row_of(chain));
  ASSERT_EQ(alike.size(), 2U);
  EXPECT_NE(alike[0].up_is_left, alike[1].up_is_left);
}

TEST(CutterSearch, FindsNothingWithoutAChain) {
  const DrawnChain chain;
  EXPECT_TRUE(find_cutters(cv::Mat::zeros(520, 660, CV_8U), row_of(chain)).empty());
  EXPECT_TRUE(find_cutters(cv::Mat(520, 660, CV_8U, cv::Scalar(128)), row_of(chain)).empty());
  EXPECT_TRUE(find_cutters(drawn(chain), RivetRow{}).empty());
}

TEST(CutterSearch, MayHoldCuttersByARowThatIsAHalfMillimetreOff) {
  for (const bool back : {false, true}) {
    DrawnChain chain;
    chain.runs_back = back;
    const cv::Mat picture = drawn(chain);
    for (const Point2& off : {Point2(0, 0), Point2(4, -2), Point2(-3, 4), Point2(0, -5)}) {
      RivetRow row = row_of(chain);
      for (Point2& centre : row.centres) centre += off;
      EXPECT_TRUE(may_hold_cutters(picture, row)) << back << " " << off.transpose();
    }
  }
  DrawnChain bare;
  bare.cutters.clear();
  bare.tangs = false;
  EXPECT_FALSE(may_hold_cutters(drawn(bare), row_of(bare)));
  EXPECT_FALSE(may_hold_cutters(drawn(bare), RivetRow{}));
}

}  // namespace
}  // namespace glintline
