#include "report/drawing.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <jpeglib.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "report/close_up.h"
#include "report/edge_strip_chart.h"
#include "report/sample_inspection.h"

#ifdef __SANITIZE_ADDRESS__
// Fontconfig keeps about 1000 bytes until the process ends; the leak checker shall only speak of leaks that are ours.
// (The program itself has the same from the card's room, which this test does not link.)
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
extern "C" const char* __lsan_default_options() { return "print_suppressions=0"; }
#endif

namespace glintline {
namespace {

using ::testing::ElementsAre;
using namespace testing;  // NOLINT(google-build-using-namespace)

/// A grey photograph.
Photo grey_photo(int width = 900, int height = 700) {
  Photo photo;
  photo.bgr = cv::Mat(height, width, CV_8UC3, cv::Scalar(110, 110, 110));
  return photo;
}

/// Decoded by libjpeg itself; RGB.
cv::Mat decoded(const std::string& bytes) {
  jpeg_decompress_struct info;
  jpeg_error_mgr errors;
  info.err = jpeg_std_error(&errors);
  jpeg_create_decompress(&info);
  jpeg_mem_src(&info, reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size());
  jpeg_read_header(&info, TRUE);
  jpeg_start_decompress(&info);
  cv::Mat picture(static_cast<int>(info.output_height), static_cast<int>(info.output_width), CV_8UC3);
  while (info.output_scanline < info.output_height) {
    unsigned char* row = picture.ptr(static_cast<int>(info.output_scanline));
    jpeg_read_scanlines(&info, &row, 1);
  }
  jpeg_finish_decompress(&info);
  jpeg_destroy_decompress(&info);
  return picture;
}

/// Share of pixels whose colour is near `rgb`.
double share_of(const cv::Mat& picture, const cv::Scalar& rgb) {
  cv::Mat near;
  cv::inRange(picture, rgb - cv::Scalar::all(14), rgb + cv::Scalar::all(14), near);
  return static_cast<double>(cv::countNonZero(near)) / static_cast<double>(picture.total());
}

const cv::Scalar kAmberBanner(255, 184, 26);

TEST(Drawing, ShowsTheDecisionAndIsNotTheBarePhotograph) {
  const Result<std::string> file = drawing_jpeg(grey_photo(), profile_inspection());
  ASSERT_TRUE(file.ok());
  const cv::Mat picture = decoded(*file);
  EXPECT_EQ(picture.cols, 1600);
  EXPECT_GT(share_of(picture, kAmberBanner), 0.02) << "the banner of 'lower gauge'";
  Inspection leave = profile_inspection();
  leave.cutters[0].verdict.action = Action::kLeave;
  EXPECT_LT(share_of(decoded(*drawing_jpeg(grey_photo(), leave)), kAmberBanner), 0.002);
}

TEST(Drawing, EveryKindOfInspectionCanBeDrawn) {
  Inspection bare = profile_inspection();
  bare.cutters.clear();
  Inspection odd = plan_inspection();
  odd.photo_path = "a\xFF\x01.jpg";
  odd.mm_per_px = std::nan("");
  odd.cutters[0].measured.marks = {{MarkRole::kLength, {{5, 5}, {5, 5}}, ""},
                                   {MarkRole::kRivetLine, {{std::nan(""), 1}, {1e12, -1e12}}, ""},
                                   {MarkRole::kDrop, {{-1e9, 4}, {3, 1e9}}, "\xFE"},
                                   {MarkRole::kEdge, {}, ""}};
  Inspection crowd = profile_inspection();
  for (int i = 0; i < 7; ++i) crowd.cutters.push_back(crowd.cutters[0]);
  for (const Inspection& inspection :
       {profile_inspection(), plan_inspection(), refused_inspection(), bare, odd, crowd}) {
    for (const cv::Size& size : {cv::Size(900, 700), cv::Size(300, 4000), cv::Size(1, 1)}) {
      const Result<std::string> file = drawing_jpeg(grey_photo(size.width, size.height), inspection);
      ASSERT_TRUE(file.ok());
      EXPECT_EQ(decoded(*file).cols, 1600);
    }
  }
}

// In words, where there is nothing to draw.
TEST(Drawing, TellsOfACutterOfWhichNothingWasTraced) {
  Inspection inspection = profile_inspection();
  const int without = decoded(*drawing_jpeg(grey_photo(), inspection)).rows;
  CutterMeasurement hidden;
  hidden.corner_px = Point2(300, 250);
  hidden.missing = {"gauge drop, length: no top plate can be told from the field"};
  inspection.cutters.push_back({hidden, {}});
  EXPECT_GT(decoded(*drawing_jpeg(grey_photo(), inspection)).rows, without);
}

TEST(Drawing, LeavesThePhotographAsItWas) {
  const Photo photo = grey_photo();
  const cv::Mat before = photo.bgr.clone();
  (void)drawing_jpeg(photo, profile_inspection());
  EXPECT_EQ(cv::norm(before, photo.bgr, cv::NORM_INF), 0);
}

TEST(CloseUp, StandsUprightHoweverThePhotographWasTurned) {
  for (int degrees = 0; degrees < 360; degrees += 30) {
    const Eigen::Rotation2Dd turn(degrees * M_PI / 180);
    Inspection inspection = profile_inspection();
    for (Mark& mark : inspection.cutters[0].measured.marks) {
      for (Point2& point : mark.points_px) point = turn * point;
    }
    const Area place{100, 200, 800, 600};
    const std::vector<CloseUp> close_ups = close_ups_of(inspection, {place});
    ASSERT_EQ(close_ups.size(), 1U) << "the cutter over the squares has none";
    const Similarity& map = close_ups[0].canvas_from_photo;
    EXPECT_GT(map.turn_and_scale.determinant(), 0) << "mirrored";
    const Point2 rear = map(turn * Point2(300, 450));
    const Point2 front = map(turn * Point2(600, 450));
    const Point2 corner = map(turn * Point2(500, 230));
    EXPECT_NEAR(rear.y(), front.y(), 1e-6) << "the rivet line lies level";
    EXPECT_LT(corner.y(), rear.y()) << "the top plate is above it";
    for (const Mark& mark : inspection.cutters[0].measured.marks) {
      for (const Point2& point : mark.points_px) {
        EXPECT_GT(map(point).x(), place.x);
        EXPECT_LT(map(point).x(), place.x + place.width);
        EXPECT_GT(map(point).y(), place.y);
        EXPECT_LT(map(point).y(), place.y + place.height);
      }
    }
  }
}

// Rounder metal draws a higher line; where no radius is known there is none, but the recession still is.
TEST(EdgeStripChart, RisesWithTheRadiusAndSaysWhenThereIsNone) {
  const auto red_rows = [](double radius_um) {
    CutterMeasurement cutter;
    for (int k = 0; k <= 20; ++k) cutter.edge_chart.push_back({0.2 * k, radius_um, 5, 0.05, StripState::kLit});
    EXPECT_TRUE(has_edge_strip_chart(cutter));
    PixelCanvas canvas(600, 200, {0, 0, 0});
    draw_edge_strip_chart(canvas, {0, 0, 600, 200}, cutter);
    std::vector<cv::Mat> channels;
    cv::split(canvas.pixels(), channels);
    cv::Mat red;
    cv::subtract(channels[2], channels[0], red);  // red and yellow lines, no white letters
    std::vector<cv::Point> lit;
    cv::findNonZero(red > 60, lit);
    double sum = 0;
    for (const cv::Point& p : lit) sum += p.y;
    return lit.empty() ? -1.0 : sum / static_cast<double>(lit.size());
  };
  const double dull = red_rows(55);
  const double duller = red_rows(40);
  EXPECT_GT(dull, 0);
  EXPECT_GT(duller, dull + 10) << "a smaller radius lies lower on the same scale";
  EXPECT_LT(red_rows(std::nan("")), 0);
  EXPECT_FALSE(has_edge_strip_chart(CutterMeasurement{}));
}

// A bright dot in the photograph must lie in the drawing where the marks say it is: half-pixel conventions of OpenCV
// (centres whole), Cairo (corners whole) and the reduction must agree.
TEST(CloseUp, MarksLieOnWhatTheyMark) {
  for (const double reduction : {1.0, 3.0}) {
    Photo photo = grey_photo(static_cast<int>(900 * reduction), static_cast<int>(700 * reduction));
    photo.bgr = cv::Scalar(0, 0, 0);
    const int half = static_cast<int>(12 * reduction);
    const Point2 centre(400 * reduction, 350 * reduction);
    const cv::Point middle(static_cast<int>(centre.x()), static_cast<int>(centre.y()));
    photo.bgr(cv::Rect(middle - cv::Point(half, half), middle + cv::Point(half + 1, half + 1))) =
        cv::Scalar(255, 255, 255);
    Inspection inspection = profile_inspection();
    const Eigen::Rotation2Dd lean(0.2);
    for (Mark& mark : inspection.cutters[0].measured.marks) {
      for (Point2& point : mark.points_px) point = reduction * (lean * point);
    }
    CloseUp close_up = close_ups_of(inspection, {{0, 0, 800, 600}})[0];
    // Marks would cover the dot.
    InspectedCutter bare = inspection.cutters[0];
    bare.measured.marks.clear();
    close_up.cutter = &bare;
    PixelCanvas canvas(800, 600, {0, 0, 0});
    draw_close_up(canvas, photo, close_up);
    cv::Mat channel;
    cv::extractChannel(canvas.pixels(), channel, 1);
    cv::threshold(channel, channel, 60, 0, cv::THRESH_TOZERO);
    const cv::Moments moments = cv::moments(channel);
    ASSERT_GT(moments.m00, 0);
    const Point2 expected = close_up.canvas_from_photo(centre) - Point2(0.5, 0.5);
    constexpr double kTenthPixel = 0.1;
    EXPECT_NEAR(moments.m10 / moments.m00, expected.x(), kTenthPixel);
    EXPECT_NEAR(moments.m01 / moments.m00, expected.y(), kTenthPixel);
  }
}

TEST(DrawingNames, AreEachTheirOwnAndNoPhotographs) {
  EXPECT_THAT(drawing_names({"a/x.jpg", "b/x.jpg", "c/X.png", "y.jpeg"}),
              ElementsAre("x-marked.jpg", "x-marked-2.jpg", "X-marked-3.jpg", "y-marked.jpg"));
  EXPECT_THAT(drawing_names({"x.jpg", "x-marked.jpg"}), ElementsAre("x-marked-2.jpg", "x-marked-marked.jpg"));
}

}  // namespace
}  // namespace glintline
