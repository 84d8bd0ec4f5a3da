#include "trace/rivets.h"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "math/statistics.h"
#include "trace/head_alignment.h"
#include "trace/plane_picture.h"
#include "trace/rim_alignment.h"

namespace glintline {
namespace {

/// A row of riveted heads on a plain link body, seen through a camera: caps of spheres with a shaded groove round the
/// foot, dull and shining light from one lamp, grain on every surface. Made by looking along every pixel's ray.
struct HeadRow {
  int heads = 6;
  double spacing_mm = 9.32;
  double radius_mm = 2.3;     ///< of the foot
  double rise_mm = 0.45;      ///< of the dome over the foot
  double foot_mm = 5.2;       ///< height of the foot over the card
  double heading_rad = 0.06;
  Point2 first_mm = {22, 36};
  Point3 lamp = {-60, -90, -260};  ///< board frame
  double shine = 0.5;
  double groove = 0.45;       ///< share of the light that the groove at the foot takes
  double grain = 0.03;        ///< of the surfaces' reflectance
  double noise = 2;           ///< codes
  unsigned seed = 1;

  [[nodiscard]] Point2 along() const { return {std::cos(heading_rad), std::sin(heading_rad)}; }
  [[nodiscard]] Point2 centre(int i) const { return first_mm + i * spacing_mm * along(); }
};

const cv::Size kPhoto(2400, 900);

CameraView view_over_row() {
  CameraView view;
  view.camera.fx = view.camera.fy = 3800;
  view.camera.cx = 1200;
  view.camera.cy = 450;
  view.camera.distortion = {-0.04, 0.01, 0, 0, 0};
  const Eigen::Matrix3d turn = Eigen::AngleAxisd(0.05, Point3(0.8, 0.6, 0)).toRotationMatrix();
  view.camera_from_board.rotation = turn;
  view.camera_from_board.translation = -(turn * Point3(46, 42, -120));
  return view;
}

/// Grain that stays with the surface: smoothed noise over the board, 0.03 mm a cell.
cv::Mat grain_of(unsigned seed) {
  cv::Mat grain(3000, 3000, CV_32F);
  cv::RNG random(seed);
  random.fill(grain, cv::RNG::NORMAL, 0, 1);
  cv::GaussianBlur(grain, grain, {}, 1.4);
  return grain * 5.0F;  // back to about unit deviation
}

/// The surface under a board point: its height over the foot's plane and its normal (board frame, towards the lens).
struct Surface {
  double over = 0;
  Point3 normal = {0, 0, -1};
  double share = 1;  ///< of the light, under 1 in the groove
};

Surface surface_at(const HeadRow& row, const Point2& p) {
  Surface s;
  const double sphere = (row.radius_mm * row.radius_mm + row.rise_mm * row.rise_mm) / (2 * row.rise_mm);
  for (int i = 0; i < row.heads; ++i) {
    const Point2 d = p - row.centre(i);
    const double r = d.norm();
    const double from_foot = (r - row.radius_mm) / 0.08;
    s.share = std::min(s.share, 1 - row.groove * std::exp(-0.5 * from_foot * from_foot));
    if (r >= row.radius_mm) continue;
    const double up = std::sqrt(sphere * sphere - r * r);
    s.over = up - (sphere - row.rise_mm);
    s.normal = Point3(d.x(), d.y(), -up) / sphere;
  }
  return s;
}

cv::Mat photographed(const HeadRow& row, const CameraView& view) {
  const cv::Mat grain = grain_of(row.seed);
  const Point3 eye = view.eye();
  cv::Mat light(kPhoto, CV_32F);
  for (int y = 0; y < kPhoto.height; ++y) {
    for (int x = 0; x < kPhoto.width; ++x) {
      // A sight line is straight: two of its points give all of them.
      const Point2 px(x, y);
      const Point2 foot = view.at_height(px, row.foot_mm);
      Point2 p = foot;
      Surface s = surface_at(row, p);
      if (s.over > 0 || s.share < 0.999) {
        const Point2 a_millimetre_up = view.at_height(px, row.foot_mm + 1) - foot;
        for (int round = 0; round < 3; ++round) {
          p = foot + s.over * a_millimetre_up;
          s = surface_at(row, p);
        }
      }
      const Point3 at(p.x(), p.y(), -row.foot_mm - s.over);
      const Point3 to_lamp = (row.lamp - at).normalized();
      const Point3 half = (to_lamp + (eye - at).normalized()).normalized();
      const int gx = std::clamp(static_cast<int>(p.x() / 0.03), 0, grain.cols - 1);
      const int gy = std::clamp(static_cast<int>(p.y() / 0.03), 0, grain.rows - 1);
      const double steel = 0.12 * (1 + row.grain * grain.at<float>(gy, gx) / 0.3);
      const double lit = steel * (0.3 + std::max(0.0, s.normal.dot(to_lamp))) +
                         row.shine * std::pow(std::max(0.0, s.normal.dot(half)), 120);
      light.at<float>(y, x) = static_cast<float>(s.share * lit);
    }
  }
  cv::GaussianBlur(light, light, {}, 1.1);
  cv::Mat photo(kPhoto, CV_8UC3);
  cv::RNG random(row.seed + 1);
  for (int y = 0; y < kPhoto.height; ++y) {
    for (int x = 0; x < kPhoto.width; ++x) {
      const double v = std::min(1.0F, light.at<float>(y, x));
      const double code = 255 * (v > 0.0031308 ? 1.055 * std::pow(v, 1 / 2.4) - 0.055 : 12.92 * v);
      const auto grey = cv::saturate_cast<uchar>(code + random.gaussian(row.noise));
      photo.at<cv::Vec3b>(y, x) = {grey, grey, grey};
    }
  }
  return photo;
}

/// Photographs are dear: each row's is made once.
const cv::Mat& photograph_of(const HeadRow& row, const CameraView& view) {
  static std::map<std::pair<unsigned, int>, cv::Mat> made;
  cv::Mat& photo = made[{row.seed, row.heads}];
  if (photo.empty()) photo = photographed(row, view);
  return photo;
}

/// The row as the search sees it: square on, 0.15 mm a pixel.
struct Overview {
  PlaneFrame frame;
  cv::Mat grey;
};

Overview overview_of(const cv::Mat& photo, const CameraView& view, double height_mm) {
  constexpr int kReduction = 4;
  cv::Mat small;
  cv::resize(photo, small, {photo.cols / kReduction, photo.rows / kReduction}, 0, 0, cv::INTER_AREA);
  Overview o;
  o.frame.origin_mm = {10, 28};
  o.frame.height_mm = height_mm;
  o.frame.mm_per_px = 0.15;
  o.frame.size = {480, 190};
  cv::cvtColor(picture_of_plane(small, view, o.frame, kReduction), o.grey, cv::COLOR_BGR2GRAY);
  return o;
}

/// Distance of the nearest found centre to each true one, mm; a missing one is far.
double worst_miss(const RivetRow& row, const Overview& o, const HeadRow& truth) {
  double worst = 0;
  for (int i = 0; i < truth.heads; ++i) {
    double nearest = 1e9;
    for (const Point2& c : row.centres) {
      nearest = std::min(nearest, (o.frame.board(c.x(), c.y()).head<2>() - truth.centre(i)).norm());
    }
    worst = std::max(worst, nearest);
  }
  return worst;
}

std::vector<HeadRow> several_rows() {
  HeadRow usual;
  HeadRow small;
  small.radius_mm = 1.9;
  small.spacing_mm = 8.25;
  small.heading_rad = -0.05;
  small.first_mm = {24, 46};
  small.seed = 5;
  HeadRow other_light;
  other_light.radius_mm = 2.8;
  other_light.spacing_mm = 10.26;
  other_light.heads = 5;
  other_light.lamp = {160, 60, -180};
  other_light.seed = 9;
  HeadRow dull;
  dull.shine = 0.05;
  dull.grain = 0.08;
  dull.seed = 13;
  return {usual, small, other_light, dull};
}

// The search need only bring the closer look within its reach of 0.9 mm.
constexpr double kFoundMm = 0.6;

TEST(Rivets, FindsRowsOfHeadsUnderSeveralLights) {
  const CameraView view = view_over_row();
  int k = 0;
  for (const HeadRow& truth : several_rows()) {
    const Overview o = overview_of(photograph_of(truth, view), view, truth.foot_mm);
    const RivetRow row = find_rivet_row(o.grey, o.frame.mm_per_px);
    ASSERT_GE(row.centres.size(), static_cast<std::size_t>(truth.heads)) << "row " << k;
    EXPECT_LT(worst_miss(row, o, truth), kFoundMm) << "row " << k;
    EXPECT_NEAR(row.spacing * o.frame.mm_per_px, truth.spacing_mm, 0.03 * truth.spacing_mm) << "row " << k;
    ++k;
  }
}

/// Centres as refined from starts that are up to 0.3 mm off, against the truth: across and along the row.
struct Errors {
  std::vector<double> across;
  std::vector<double> along;
  double stretch = 0;   ///< first to last, found over true, less one
  double median_u = 0;  ///< mm
};

Errors errors_of(const HeadRow& truth, const CameraView& view) {
  const cv::Mat photo = photograph_of(truth, view);
  std::vector<RivetSearch> searches;
  cv::RNG random(truth.seed);
  for (int i = 0; i < truth.heads; ++i) {
    searches.push_back({truth.centre(i) + Point2(random.uniform(-0.3, 0.3), random.uniform(-0.3, 0.3)), truth.foot_mm});
  }
  const auto found = refine_rivets(photo, view, searches);
  Errors e;
  std::vector<Point2> places;
  std::vector<double> us;
  for (int i = 0; i < truth.heads; ++i) {
    if (!found[i]) continue;
    places.push_back(view.at_height(found[i]->centre_px, truth.foot_mm));
    const Point2 off = places.back() - truth.centre(i);
    e.along.push_back(off.dot(truth.along()));
    e.across.push_back(off.dot(turned_quarter(truth.along())));
    us.push_back(found[i]->u_px * view.mm_per_px(found[i]->centre_px, truth.foot_mm));
  }
  if (places.size() > 1) {
    e.stretch = (e.along.back() - e.along.front()) / ((truth.heads - 1) * truth.spacing_mm);
  }
  e.median_u = us.empty() ? 0 : median(us);
  return e;
}

// A shift that all heads share turns and stretches nothing; what differs from head to head does.
constexpr double kAcrossMm = 0.012;
constexpr double kStretch = 0.004;

TEST(Rivets, PlacesHeadsAgainstEachOtherToAFewHundredthsOfAMillimetre) {
  const CameraView view = view_over_row();
  int k = 0;
  for (const HeadRow& truth : several_rows()) {
    const Errors e = errors_of(truth, view);
    ASSERT_EQ(e.across.size(), static_cast<std::size_t>(truth.heads)) << "row " << k;
    std::printf("  row %d: across sd %.4f mean %+.4f, along sd %.4f mean %+.4f mm, stretch %+.4f, u %.4f mm\n", k,
                standard_deviation(e.across), mean(e.across), standard_deviation(e.along), mean(e.along), e.stretch,
                e.median_u);
    EXPECT_LT(standard_deviation(e.across), kAcrossMm) << "row " << k;
    EXPECT_LT(std::abs(e.stretch), kStretch) << "row " << k;
    // Common shift: the highlight's pull on the outline, the same for all.
    EXPECT_LT(std::abs(mean(e.across)), 0.15) << "row " << k;
    EXPECT_GT(e.median_u, 0) << "row " << k;
    ++k;
  }
}

TEST(Rivets, AlignmentUndoesScatteredStarts) {
  const HeadRow truth;
  const CameraView view = view_over_row();
  const cv::Mat photo = photograph_of(truth, view);
  std::vector<Point2> starts;
  cv::RNG random(3);
  std::vector<double> before, after;
  for (int i = 0; i < truth.heads; ++i) {
    starts.push_back(truth.centre(i) + Point2(random.uniform(-0.2, 0.2), random.uniform(-0.2, 0.2)));
    before.push_back((starts.back() - truth.centre(i)).dot(turned_quarter(truth.along())));
  }
  const auto aligned = align_heads(photo, view, starts, truth.radius_mm, truth.foot_mm);
  ASSERT_EQ(aligned.size(), starts.size());
  for (int i = 0; i < truth.heads; ++i) {
    after.push_back((aligned[i].centre_mm - truth.centre(i)).dot(turned_quarter(truth.along())));
    EXPECT_GT(aligned[i].likeness, 0.5) << i;
    EXPECT_LT(aligned[i].u_mm, 0.05) << i;
  }
  EXPECT_GT(standard_deviation(before), 0.08);
  constexpr double kRoughlyMm = 0.03;
  EXPECT_LT(standard_deviation(after), kRoughlyMm);
}

// Dark stains over a third of every head and of what it stands on, each at a place of its own.
TEST(Rivets, RimsAgreeInSpiteOfStains) {
  const HeadRow truth;
  const CameraView view = view_over_row();
  cv::Mat photo = photograph_of(truth, view).clone();
  cv::RNG random(7);
  std::vector<AlignedHead> roughly;
  for (int i = 0; i < truth.heads; ++i) {
    const double turn = random.uniform(0.0, 2 * std::numbers::pi);
    const Point2 at = truth.centre(i) + truth.radius_mm * Point2(std::cos(turn), std::sin(turn));
    const Point2 px = view.pixel({at.x(), at.y(), -truth.foot_mm});
    const double radius_px = 0.6 * truth.radius_mm / view.mm_per_px(px, truth.foot_mm);
    cv::circle(photo, {cvRound(px.x()), cvRound(px.y())}, cvRound(radius_px), {24, 28, 32}, cv::FILLED);
    roughly.push_back({truth.centre(i) + Point2(random.uniform(-0.12, 0.12), random.uniform(-0.12, 0.12)), 0.03, 1});
  }
  const auto aligned = align_rims(photo, view, roughly, truth.radius_mm, truth.foot_mm);
  ASSERT_EQ(aligned.size(), roughly.size());
  std::vector<double> across;
  for (int i = 0; i < truth.heads; ++i) {
    across.push_back((aligned[i].centre_mm - truth.centre(i)).dot(turned_quarter(truth.along())));
    EXPECT_LT(aligned[i].u_mm, 0.02) << i;
    EXPECT_GT(aligned[i].u_mm, 0.001) << i;
  }
  EXPECT_LT(standard_deviation(across), kAcrossMm);
}

TEST(Rivets, LeavesHeadsWhoseRimsAgreeNowhere) {
  const CameraView view = view_over_row();
  const cv::Mat plain(kPhoto, CV_8UC3, cv::Scalar(90, 90, 90));
  const HeadRow truth;
  const std::vector<AlignedHead> roughly = {{truth.centre(0), 0.05, 1}, {truth.centre(1), 0.07, 1}};
  const auto aligned = align_rims(plain, view, roughly, truth.radius_mm, truth.foot_mm);
  for (std::size_t i = 0; i < roughly.size(); ++i) {
    EXPECT_EQ(aligned[i].centre_mm, roughly[i].centre_mm);
    EXPECT_EQ(aligned[i].u_mm, roughly[i].u_mm);
  }
}

// A link's rim and highlights can make a coarse place of their own, farther from the head than it is looked for.
TEST(Rivets, LooksForAHeadBetweenItsNeighbours) {
  HeadRow truth;
  truth.heads = 5;
  const CameraView view = view_over_row();
  const cv::Mat photo = photograph_of(truth, view);
  std::vector<RivetSearch> searches;
  for (int i = 0; i < truth.heads; ++i) searches.push_back({truth.centre(i), truth.foot_mm});
  searches[2].near_mm += Point2(2.0, 0.3);
  const auto found = refine_rivets(photo, view, searches);
  ASSERT_TRUE(found[2]);
  EXPECT_LT((view.at_height(found[2]->centre_px, truth.foot_mm) - truth.centre(2)).norm(), 0.1);
}

/// A bright ring as wide as a head, as a shadow's rim or a highlight may draw one.
void draw_ring(cv::Mat& photo, const CameraView& view, const HeadRow& truth, const Point2& at) {
  const Point2 px = view.pixel({at.x(), at.y(), -truth.foot_mm});
  const double radius_px = truth.radius_mm / view.mm_per_px(px, truth.foot_mm);
  cv::circle(photo, {cvRound(px.x()), cvRound(px.y())}, cvRound(radius_px), {235, 235, 235}, 5, cv::LINE_AA);
}

TEST(Rivets, LooksForAHeadWhereTheRowOfTheOthersSaysThatItIs) {
  const HeadRow truth;
  const CameraView view = view_over_row();
  for (const int head : {0, 3}) {
    cv::Mat photo = photograph_of(truth, view).clone();
    draw_ring(photo, view, truth, truth.centre(head) + Point2(0.8, 0.2));
    std::vector<RivetSearch> searches;
    for (int i = 0; i < truth.heads; ++i) searches.push_back({truth.centre(i), truth.foot_mm});
    const auto found = refine_rivets(photo, view, searches);
    std::vector<double> across;
    for (int i = 0; i < truth.heads; ++i) {
      ASSERT_TRUE(found[i]) << i;
      const Point2 off = view.at_height(found[i]->centre_px, truth.foot_mm) - truth.centre(i);
      across.push_back(off.dot(turned_quarter(truth.along())));
      EXPECT_LT(off.norm(), 0.15) << i;
    }
    EXPECT_LT(standard_deviation(across), 0.02) << head;
  }
}

TEST(Rivets, DoubtsAHeadThatIsNotWhereTheRowSaysEither) {
  const HeadRow truth;
  const CameraView view = view_over_row();
  cv::Mat photo = photograph_of(truth, view).clone();
  const Point2 px = view.pixel({truth.centre(0).x(), truth.centre(0).y(), -truth.foot_mm});
  cv::circle(photo, {cvRound(px.x()), cvRound(px.y())}, cvRound(1.6 * truth.radius_mm / 0.03), {90, 90, 90},
             cv::FILLED);
  draw_ring(photo, view, truth, truth.centre(0) + Point2(0.3, 1.0));
  std::vector<RivetSearch> searches;
  for (int i = 0; i < truth.heads; ++i) searches.push_back({truth.centre(i), truth.foot_mm});
  const auto found = refine_rivets(photo, view, searches);
  ASSERT_TRUE(found[0]);
  const double mm_per_px = view.mm_per_px(found[0]->centre_px, truth.foot_mm);
  EXPECT_GT(found[0]->u_px * mm_per_px, 0.5);
  for (int i = 1; i < truth.heads; ++i) EXPECT_LT(found[i]->u_px * mm_per_px, 0.05) << i;
}

TEST(Rivets, LeavesOutASearchWithoutAHead) {
  HeadRow truth;
  truth.heads = 4;
  truth.grain = 0;
  truth.noise = 0.5;  // a plain, clean link body: coarser grain is taken for a faint outline now and then
  const CameraView view = view_over_row();
  const cv::Mat photo = photograph_of(truth, view);
  std::vector<RivetSearch> searches;
  for (int i = 0; i < 5; ++i) searches.push_back({truth.centre(i), truth.foot_mm});
  const auto found = refine_rivets(photo, view, searches);
  ASSERT_EQ(found.size(), 5U);
  for (int i = 0; i < 4; ++i) EXPECT_TRUE(found[i]) << i;
  EXPECT_FALSE(found[4]);
}

/// Faint outlines of heads, each crossed by a highlight's stronger and smaller ring, now before its middle and now
/// behind it.
TEST(Rivets, FindsHeadsWhoseHighlightsStandInNoRow) {
  constexpr int kSpacing = 64;
  constexpr int kHeads = 4;
  cv::Mat picture(200, 400, CV_8U, cv::Scalar(110));
  for (int i = 0; i < kHeads; ++i) {
    const cv::Point head(90 + i * kSpacing, 100);
    cv::circle(picture, head, 16, cv::Scalar(150), 2, cv::LINE_AA);
    cv::circle(picture, head + cv::Point(i % 2 ? 7 : -7, 3), 12, cv::Scalar(230), 2, cv::LINE_AA);
  }
  cv::GaussianBlur(picture, picture, {}, 0.8);
  const RivetRow row = find_rivet_row(picture, 0.15);
  ASSERT_GE(row.centres.size(), static_cast<std::size_t>(kHeads));
  for (int i = 0; i < kHeads; ++i) {
    double nearest = 1e9;
    for (const Point2& c : row.centres) nearest = std::min(nearest, (c - Point2(90 + i * kSpacing, 100)).norm());
    EXPECT_LT(nearest * 0.15, kFoundMm) << "head " << i;
  }
}

cv::Mat checkerboard(double square_px, int dark, int bright) {
  cv::Mat picture(300, 520, CV_8U);
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      const int i = static_cast<int>(x / square_px) + static_cast<int>(y / square_px);
      picture.at<uchar>(y, x) = static_cast<uchar>(i % 2 ? dark : bright);
    }
  }
  cv::GaussianBlur(picture, picture, {}, 0.8);
  return picture;
}

TEST(Rivets, FindsNoRowInNoise) {
  cv::Mat noise(300, 520, CV_8U);
  for (int seed = 0; seed < 5; ++seed) {
    cv::RNG random(seed + 40);
    random.fill(noise, cv::RNG::NORMAL, 128, 25);
    EXPECT_TRUE(find_rivet_row(noise, 0.15).centres.empty()) << seed;
  }
}

TEST(Rivets, FindsNoRowInWoodLikeStripes) {
  cv::Mat wood(300, 520, CV_8U);
  cv::RNG random(77);
  for (int y = 0; y < wood.rows; ++y) {
    for (int x = 0; x < wood.cols; ++x) {
      const double ring = std::sin(0.35 * (y + 6 * std::sin(x / 90.0)) + 1.3 * std::sin(y / 23.0));
      wood.at<uchar>(y, x) = cv::saturate_cast<uchar>(130 + 35 * ring + random.gaussian(5));
    }
  }
  EXPECT_TRUE(find_rivet_row(wood, 0.15).centres.empty());
}

TEST(Rivets, FindsNoRowInPrintedSquares) {
  for (const double square_mm : {2.0, 5.0}) {
    EXPECT_TRUE(find_rivet_row(checkerboard(square_mm / 0.15, 30, 220), 0.15).centres.empty()) << square_mm;
  }
}

TEST(Rivets, FindsNoRowOnAPlainPicture) {
  EXPECT_TRUE(find_rivet_row(cv::Mat(200, 200, CV_8U, cv::Scalar(90)), 0.15).centres.empty());
}

}  // namespace
}  // namespace glintline
