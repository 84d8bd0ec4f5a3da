#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "trace/plan_edge.h"

namespace glintline {
namespace {

constexpr double kPxPerMm = 60;

/// A rounded corner: the straight edge, whose bend falls back over its first millimetre. All light is alike, so that
/// only the path itself tells what is kept.
struct RoundedCorner {
  EdgeStrip strip;
  EdgePath path;
};

RoundedCorner rounded_corner() {
  constexpr int kRows = 240;
  constexpr int kBend = 60;
  RoundedCorner out;
  out.strip.first_n = -96;
  out.strip.linear = cv::Mat(kRows, 250, CV_32FC3, cv::Scalar::all(0.3));
  for (int j = 0; j < kRows; ++j) {
    const double u = std::max(0, kBend - j);
    out.path.n_px.push_back(-u * u / 120);
  }
  out.path.line_px.assign(kRows, 0);
  out.path.flat_n_px = out.path.alike_n_px = out.path.n_px;
  out.path.contrast.assign(kRows, true);
  out.path.flat.assign(kRows, cv::Vec3f(0.3F, 0.3F, 0.3F));
  out.path.ground = out.path.flat;
  return out;
}

void set(EdgePath& path, int from, int to, double n, bool contrast) {
  for (int j = from; j < to; ++j) {
    path.n_px[j] = n;
    path.contrast[j] = contrast;
  }
}

// A few rows on the edge's line, half a millimetre ahead of the bend that follows, would be steel longer than thick:
// they are lower metal. Rows between that nobody sees lie on the line too, but prove nothing.
TEST(PlanIslands, GivesUpASliverAheadOfARoundedCorner) {
  RoundedCorner corner = rounded_corner();
  set(corner.path, 0, 3, 0, false);
  set(corner.path, 3, 7, 0, true);
  set(corner.path, 7, 13, 0, false);
  sharpen_path(corner.strip, kPxPerMm, corner.path);
  EXPECT_EQ(std::count(corner.path.contrast.begin(), corner.path.contrast.begin() + 13, true), 0);
  EXPECT_EQ(std::count(corner.path.contrast.begin() + 13, corner.path.contrast.end(), false), 0);
}

// The same rows in the middle of the bend.
TEST(PlanIslands, GivesUpAPatternBetweenRowsWithoutContrast) {
  RoundedCorner corner = rounded_corner();
  set(corner.path, 8, 12, 0, false);
  set(corner.path, 12, 16, 0, true);
  set(corner.path, 16, 20, 0, false);
  sharpen_path(corner.strip, kPxPerMm, corner.path);
  EXPECT_EQ(std::count(corner.path.contrast.begin() + 8, corner.path.contrast.begin() + 20, true), 0);
  EXPECT_TRUE(corner.path.contrast[4]);
}

// A corner that stands ahead of a chip by less than its own length is steel.
TEST(PlanIslands, KeepsACornerBesideAChip) {
  RoundedCorner corner = rounded_corner();
  set(corner.path, 0, 240, 0, true);
  set(corner.path, 14, 30, -9, true);
  sharpen_path(corner.strip, kPxPerMm, corner.path);
  EXPECT_EQ(std::count(corner.path.contrast.begin(), corner.path.contrast.end(), false), 0);
}

}  // namespace
}  // namespace glintline
