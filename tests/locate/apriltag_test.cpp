#include <apriltag/apriltag.h>
#include <apriltag/tag36h11.h>
#include <gtest/gtest.h>

#include <memory>
#include <opencv2/imgproc.hpp>

#include "locate/locate_card.h"
#include "support/board_render.h"

namespace glintline {
namespace {

struct Tag {
  int id = 0;
  Point2 centre_px;
};

/// The markers as the AprilTag library sees them: written by the family's authors, independent of OpenCV. It counts
/// from the top-left corner of the top-left pixel, half a pixel before our origin.
std::vector<Tag> apriltags(const cv::Mat& bgr) {
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  image_u8_t image{grey.cols, grey.rows, static_cast<std::int32_t>(grey.step), grey.data};
  const std::unique_ptr<apriltag_family_t, decltype(&tag36h11_destroy)> family(tag36h11_create(), tag36h11_destroy);
  const std::unique_ptr<apriltag_detector_t, decltype(&apriltag_detector_destroy)> detector(apriltag_detector_create(),
                                                                                            apriltag_detector_destroy);
  detector->quad_decimate = 1;
  detector->nthreads = 1;
  apriltag_detector_add_family_bits(detector.get(), family.get(), 1);
  zarray_t* found = apriltag_detector_detect(detector.get(), &image);
  std::vector<Tag> tags;
  for (int i = 0; i < zarray_size(found); ++i) {
    apriltag_detection_t* one = nullptr;
    zarray_get(found, i, &one);
    tags.push_back({one->id, Point2(one->c[0] - 0.5, one->c[1] - 0.5)});
  }
  apriltag_detections_destroy(found);
  return tags;
}

TEST(Card, LiesWhereTheAprilTagLibraryFindsItsMarkers) {
  testing::BoardScene scene;
  scene.size = cv::Size(2200, 1650);
  scene.view.camera = testing::plain_camera(1700, scene.size);
  scene.view.camera.distortion = {0.03, -0.02, 0, 0, 0};
  scene.view.camera_from_board = testing::camera_over({52.5, 37.5}, 95, 0.18, 2.2, 0.4);
  scene.noise_8bit = 2;
  const Photo photo = testing::photographed(scene, 27);
  const auto pose = locate_card(photo, glintline::Setup{});
  ASSERT_TRUE(pose) << pose.error().what;

  const CardLayout layout(CardKind::kWide);
  Point2 mean = Point2::Zero();
  int compared = 0;
  for (const Tag& tag : apriltags(photo.bgr)) {
    const auto square = layout.square_of(tag.id);
    ASSERT_TRUE(square) << "a marker that is not on the card: " << tag.id;
    const auto corners = layout.marker_corners(square->first, square->second);
    const Point2 centre_mm = (corners[0] + corners[2]) / 2;
    const Point2 here = pose->view.pixel(Point3(centre_mm.x() * pose->print.x, centre_mm.y() * pose->print.y, 0));
    // One marker's centre from four edge fits of some 40 px: a quarter of a pixel at the worst.
    EXPECT_LT((tag.centre_px - here).norm(), 0.35) << "marker " << tag.id;
    mean += tag.centre_px - here;
    ++compared;
  }
  ASSERT_GE(compared, 60);
  EXPECT_LT((mean / compared).norm(), 0.1);  // a convention missed by half a pixel would show as 0.7
}

}  // namespace
}  // namespace glintline
