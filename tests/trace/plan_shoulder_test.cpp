#include "trace/plan_shoulder.h"

#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"

namespace glintline {
namespace {

constexpr double kPxPerMm = 40;
constexpr int kSide = 60;  // row of the outer side; the plate lies under it

/// A plate whose bend of `radius_mm` to the side plate mirrors a room that is dark at its horizon, and whose flat gets
/// brighter by `slant` for each mm inwards (natural logarithm).
cv::Mat plate(double radius_mm, double slant) {
  cv::Mat bgr(320, 500, CV_8UC3, cv::Scalar(60, 60, 60));
  for (int y = kSide; y < bgr.rows; ++y) {
    const double inside = (y + 0.5 - kSide) / kPxPerMm;
    const double turned = inside < radius_mm ? std::acos(std::min(1.0, inside / radius_mm)) : 0;
    const double light = 0.25 * std::exp(slant * inside) * std::pow(std::cos(turned), 1.5);
    const double code = 255 * (light <= 0.0031308 ? 12.92 * light : 1.055 * std::pow(light, 1 / 2.4) - 0.055);
    bgr.row(y).setTo(cv::Scalar(code, code, code));
  }
  cv::Mat noise(bgr.size(), CV_16SC3);
  cv::RNG(3).fill(noise, cv::RNG::NORMAL, 0, 3);
  cv::add(bgr, noise, bgr, cv::noArray(), CV_8U);
  return bgr;
}

OuterSide side() { return {Point2(40, kSide), Point2(460, kSide), Point2(0, 1), kPxPerMm}; }

TEST(PlanShoulder, ChangesOverABendAndHardlyOverAFlat) {
  for (const double radius : {1.1, 1.5, 1.9}) EXPECT_GT(shoulder_change(plate(radius, 0), side()), 0.4) << radius;
  for (const double radius : {0.0, 0.15, 0.3}) EXPECT_LT(shoulder_change(plate(radius, 0), side()), 0.1) << radius;
  // A flat that is half as bright again 3 mm further in.
  EXPECT_LT(shoulder_change(plate(0.2, 0.13), side()), 0.2);
}

TEST(PlanShoulder, IsNotTakenInByMarksAndSaysNothingOutsideThePicture) {
  cv::Mat marked = plate(0.2, 0);
  for (int x = 80; x < 460; x += 90) marked.colRange(x, x + 25).setTo(cv::Scalar(20, 60, 110));  // rust across the side
  EXPECT_LT(shoulder_change(marked, side()), 0.1);
  OuterSide outside = side();
  outside.inwards = Point2(0, -1);
  outside.rear.y() = outside.front.y() = 10;
  EXPECT_EQ(shoulder_change(marked, outside), 0);
}

// The side plate's outer face beside the top, dark or bright, ends at the top in a sharp step; what rounds a chisel's
// side or bends to a rounded corner does not.
TEST(PlanShoulder, TellsTheSidePlatesFaceFromTheTop) {
  constexpr double kWidthMm = 0.35;
  for (const int code : {70, 190}) {
    cv::Mat seen = plate(0, 0);
    cv::Mat face = seen.rowRange(kSide, kSide + static_cast<int>(kWidthMm * kPxPerMm));
    face.setTo(cv::Scalar(code, code, code));
    EXPECT_NEAR(side_face_width(seen, side()), kWidthMm, 0.04) << code;
  }
  for (const double radius : {0.0, 0.15, 0.3, 1.1, 1.5, 1.9}) {
    EXPECT_EQ(side_face_width(plate(radius, 0), side()), 0) << radius;
  }
  EXPECT_EQ(side_face_width(plate(0.2, 0.13), side()), 0);
}

}  // namespace
}  // namespace glintline
