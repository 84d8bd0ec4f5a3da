#include "trace/plan_flash.h"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>
#include <random>
#include <vector>

#include "math/statistics.h"

namespace glintline {
namespace {

constexpr double kPxPerMm = 60;

/// An edge of 5 mm, flat and ground as bright as each other but for the grain: `line_n(s_mm)` is where its line of
/// light is brightest, NaN where it has none.
EdgeStrip strip_with(const std::function<double(double)>& line_n) {
  constexpr double kLineSigmaPx = 1.2;
  EdgeStrip strip;
  strip.frame.length_px = 5 * kPxPerMm;
  strip.first_n = -1.6 * kPxPerMm;
  const int rows = static_cast<int>(strip.frame.length_px);
  const int cols = static_cast<int>(2.1 * kPxPerMm / strip.step_n);
  strip.linear = cv::Mat(rows, cols, CV_32FC3);
  std::mt19937 random(7);
  std::normal_distribution<float> grain(0, 0.008F);
  for (int j = 0; j < rows; ++j) {
    const double at = line_n(strip.s(j) / kPxPerMm);
    for (int i = 0; i < cols; ++i) {
      const double n = strip.n(i);
      const double off = (n - at) / kLineSigmaPx;
      const float light = std::isnan(at) ? 0 : static_cast<float>(0.3 * std::exp(-0.5 * off * off));
      strip.linear.at<cv::Vec3f>(j, i) = cv::Vec3f::all(0.2F + light + grain(random));
    }
  }
  return strip;
}

double slanted(double s_mm) { return -6 + 1.5 * s_mm; }

TEST(PlanFlash, FindsTheLineBetweenSurfacesThatLookAlike) {
  const EdgeStrip strip = strip_with(slanted);
  const auto flash = find_flash(strip, kPxPerMm);
  ASSERT_TRUE(flash.has_value());
  int close = 0;
  int rows = 0;
  for (int j = static_cast<int>(0.4 * kPxPerMm); j < strip.linear.rows; ++j, ++rows) {
    if (!flash->n_px[j]) continue;
    close += std::abs(*flash->n_px[j] - slanted(strip.s(j) / kPxPerMm)) < 0.5 ? 1 : 0;
    EXPECT_NEAR(flash->line_n_px[j], slanted(strip.s(j) / kPxPerMm), 2.5);
  }
  EXPECT_GE(close, 0.95 * rows);
}

TEST(PlanFlash, ShowsNoneInsideAChip) {
  const auto chipped = [](double s_mm) { return slanted(s_mm) - (s_mm > 2.5 && s_mm < 3 ? 12 : 0); };
  const auto flash = find_flash(strip_with(chipped), kPxPerMm);
  ASSERT_TRUE(flash.has_value());
  for (int j = static_cast<int>(2.55 * kPxPerMm); j < static_cast<int>(2.95 * kPxPerMm); ++j)
    EXPECT_FALSE(flash->n_px[j].has_value()) << j;
  EXPECT_TRUE(flash->n_px[static_cast<int>(2 * kPxPerMm)].has_value());
}

TEST(PlanFlash, TakesNoStepForALine) {
  const auto none = [](double) { return std::nan(""); };
  EXPECT_FALSE(find_flash(strip_with(none), kPxPerMm).has_value());
  EdgeStrip step = strip_with(none);
  for (int j = 0; j < step.linear.rows; ++j) {
    for (int i = 0; i < step.linear.cols; ++i) {
      const double n = step.n(i);
      step.linear.at<cv::Vec3f>(j, i) = cv::Vec3f::all(n < slanted(step.s(j) / kPxPerMm) ? 0.2F : 0.6F);
    }
  }
  EXPECT_FALSE(find_flash(step, kPxPerMm).has_value());
}

TEST(PlanFlash, NeedsMostOfTheEdge) {
  const auto short_one = [](double s_mm) { return s_mm > 2 && s_mm < 3.5 ? slanted(s_mm) : std::nan(""); };
  EXPECT_FALSE(find_flash(strip_with(short_one), kPxPerMm).has_value());
}

// Metal below a rounded corner shows a streak of its own along the edge's line, after a gap.
TEST(PlanFlash, EndsWhereARoundedCornerBendsAway) {
  const auto bent = [](double s_mm) { return s_mm > 0.75 && s_mm < 1 ? std::nan("") : slanted(s_mm); };
  const auto flash = find_flash(strip_with(bent), kPxPerMm);
  ASSERT_TRUE(flash.has_value());
  for (int j = 0; j < static_cast<int>(0.9 * kPxPerMm); ++j) EXPECT_FALSE(flash->n_px[j].has_value()) << j;
}

// A rounded corner of 1.1 mm: the light leaves the edge's line with its bend, and is followed but for the last rows,
// where the corner flashes by itself.
TEST(PlanFlash, FollowsTheBendOfARoundedCorner) {
  constexpr double kRadiusMm = 1.1;
  const auto bent = [](double s_mm) {
    const double before = std::max(0.0, 1 - s_mm);
    return slanted(s_mm) - kPxPerMm * (kRadiusMm - std::sqrt(kRadiusMm * kRadiusMm - before * before));
  };
  const EdgeStrip strip = strip_with(bent);
  const auto flash = find_flash(strip, kPxPerMm);
  ASSERT_TRUE(flash.has_value());
  int close = 0;
  int rows = 0;
  for (int j = static_cast<int>(0.32 * kPxPerMm); j < static_cast<int>(1.2 * kPxPerMm); ++j, ++rows)
    close += flash->n_px[j] && std::abs(*flash->n_px[j] - bent(strip.s(j) / kPxPerMm)) < 1 ? 1 : 0;
  EXPECT_GE(close, 0.9 * rows);
  EXPECT_NEAR(flash->line_n_px[0], slanted(0), 2.5) << "the edge's line goes on straight";
}

// Ground as bright as the line of light lies before a part of the edge, dark ground before the rest: the outline is as
// straight as the edge all the same.
TEST(PlanFlash, OutlinesBrightGroundWhereTheLineWouldEnd) {
  constexpr double kLinePx = 3;
  constexpr double kBrightToMm = 2;
  EdgeStrip strip = strip_with([](double) { return std::nan(""); });
  for (int j = 0; j < strip.linear.rows; ++j) {
    const bool bright = strip.s(j) < kBrightToMm * kPxPerMm;
    for (int i = 0; i < strip.linear.cols; ++i) {
      const double n = strip.n(i);
      strip.linear.at<cv::Vec3f>(j, i) += cv::Vec3f::all(n < 0 ? 0 : n < kLinePx || bright ? 0.4F : -0.15F);
    }
  }
  cv::GaussianBlur(strip.linear, strip.linear, {}, 0.9 / strip.step_n, 0.9 / strip.step_s);
  EdgePath path = find_outline(strip, kPxPerMm);
  sharpen_path(strip, kPxPerMm, path);
  std::vector<StripEnd> ends;
  for (int j = static_cast<int>(3 * kPxPerMm); j < strip.linear.rows - 10; j += 6) ends.push_back({j, kLinePx});
  const auto usual_over = [&](double from_mm, double to_mm) {
    const auto row = [&](double mm) { return path.n_px.begin() + static_cast<int>(mm * kPxPerMm / strip.step_s); };
    return median(std::vector<double>(row(from_mm), row(to_mm)));
  };
  EXPECT_NEAR(usual_over(0.3, 1.7), 0, 0.4);
  move_to_flash(strip, ends, path);
  EXPECT_NEAR(usual_over(0.3, 1.7), kLinePx, 0.4);
  EXPECT_NEAR(usual_over(2.3, 4.7), kLinePx, 0.4);
}

}  // namespace
}  // namespace glintline
