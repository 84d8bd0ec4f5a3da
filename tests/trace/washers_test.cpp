// Real steel: backlit washers whose diameters a coordinate measuring machine gave (tests/data/washers).
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iomanip>
#include <numbers>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "math/circle_fit.h"
#include "math/statistics.h"
#include "read/photo_file.h"
#include "trace/edge_profile.h"

namespace glintline {
namespace {

const std::filesystem::path kFolder = std::filesystem::path(GLINTLINE_SOURCE_DIR) / "tests/data/washers";

struct Part {
  int id = 0;
  double inner_mm = 0;  ///< by the coordinate measuring machine
  double outer_mm = 0;
  double inner_px = 0;  ///< diameters as traced
  double outer_px = 0;
};

std::vector<Part> parts_of_table() {
  std::ifstream file(kFolder / "cmm.csv");
  std::string line;
  std::getline(file, line);
  std::vector<Part> parts;
  while (std::getline(file, line)) {
    std::istringstream row(line);
    std::vector<double> cells;
    for (std::string cell; std::getline(row, cell, ',');) cells.push_back(std::stod(cell));
    Part part;
    part.id = static_cast<int>(cells.at(0));
    part.inner_mm = cells.at(1);
    part.outer_mm = cells.at(5);
    parts.push_back(part);
  }
  return parts;
}

/// Light of a grey picture between its pixels, codes.
double code_at(const cv::Mat& bgr, const Point2& p) {
  const int x = static_cast<int>(std::floor(p.x()));
  const int y = static_cast<int>(std::floor(p.y()));
  if (x < 0 || y < 0 || x + 1 >= bgr.cols || y + 1 >= bgr.rows) return 255;
  const double u = p.x() - x;
  const double v = p.y() - y;
  const auto code = [&](int i, int j) { return static_cast<double>(bgr.at<cv::Vec3b>(y + j, x + i)[1]); };
  return (1 - v) * ((1 - u) * code(0, 0) + u * code(1, 0)) + v * ((1 - u) * code(0, 1) + u * code(1, 1));
}

Point2 middle_of_dark(const cv::Mat& bgr) {
  Point2 sum = Point2::Zero();
  int count = 0;
  for (int y = 0; y < bgr.rows; ++y) {
    for (int x = 0; x < bgr.cols; ++x) {
      if (bgr.at<cv::Vec3b>(y, x)[1] > 90) continue;
      sum += Point2(x, y);
      ++count;
    }
  }
  return sum / count;
}

/// Places where rays across the ring meet its dark body, from the bright side: from the middle outwards for the bore,
/// from outside inwards for the rim. The bright background plays the field, and there is no other light.
std::vector<Point2> outline(const cv::Mat& bgr, const Point2& middle, bool bore) {
  constexpr int kRays = 1440;
  constexpr double kStep = 0.5;  // px a sample
  constexpr double kBlur = 2;    // samples: the pictures' edges rise over about a pixel's deviation
  constexpr int kBefore = 45;
  constexpr int kCount = 75;
  std::vector<Point2> points;
  for (int k = 0; k < kRays; ++k) {
    const double angle = 2 * std::numbers::pi * k / kRays;
    const Point2 out(std::cos(angle), std::sin(angle));
    const Point2 way = bore ? out : Point2(-out);
    const Point2 start = bore ? middle : Point2(middle + 710 * out);
    double coarse = 0;
    while (coarse < 700 && code_at(bgr, start + coarse * way) > 110) coarse += 1;
    EdgeProfile profile;
    for (int i = 0; i < kCount; ++i) {
      const Point2 at = start + (coarse + kStep * (i - kBefore)) * way;
      // An inspection camera's codes are taken as light itself, without a tone curve.
      profile.along.push_back(static_cast<float>(code_at(bgr, at) / 255));
      profile.across.push_back(0);
    }
    const EdgeSigns signs = find_edge(profile, kBefore, 4 * kBlur + 3, kBlur);
    if (signs.drop) points.push_back(start + (coarse + kStep * (signs.drop->at - kBefore)) * way);
  }
  return points;
}

std::optional<double> diameter_px(const cv::Mat& bgr, const Point2& middle, bool bore) {
  const auto points = outline(bgr, middle, bore);
  if (points.size() < 1300) return std::nullopt;
  // Burrs and dust on the rim are no part of it.
  const auto fit = fit_circle(points, {.loss = Loss::kTukey, .ordered = true});
  if (!fit) return std::nullopt;
  return 2 * fit->circle.radius;
}

/// One scale, and one width of bloom: bright light eats into every dark outline by the same share of a pixel.
struct Scale {
  double mm_per_px = 0;
  double bloom_mm = 0;  ///< by which each edge stands back into the dark
  [[nodiscard]] double outer(const Part& p) const { return mm_per_px * p.outer_px + 2 * bloom_mm; }
  [[nodiscard]] double inner(const Part& p) const { return mm_per_px * p.inner_px - 2 * bloom_mm; }
};

/// Least squares over the parts' two diameters.
Scale scale_of(const std::vector<Part>& parts) {
  Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
  Eigen::Vector2d right = Eigen::Vector2d::Zero();
  for (const Part& p : parts) {
    for (const auto& [row, mm] : {std::pair{Eigen::Vector2d(p.outer_px, 2), p.outer_mm},
                                  {Eigen::Vector2d(p.inner_px, -2), p.inner_mm}}) {
      normal += row * row.transpose();
      right += mm * row;
    }
  }
  const Eigen::Vector2d found = normal.inverse() * right;
  return {found[0], found[1]};
}

std::vector<Part> traced_parts() {
  std::vector<Part> parts = parts_of_table();
  for (Part& part : parts) {
    std::ostringstream name;
    name << "part-" << std::setw(2) << std::setfill('0') << part.id << ".png";
    const auto photo = read_photo(kFolder / name.str());
    if (!photo) throw std::runtime_error(photo.error().what);
    const Point2 middle = middle_of_dark(photo->bgr);
    part.outer_px = diameter_px(photo->bgr, middle, false).value_or(0);
    part.inner_px = diameter_px(photo->bgr, middle, true).value_or(0);
  }
  return parts;
}

/// Errors of parts that did not take part in the fit of scale and bloom, um.
struct HeldOut {
  std::vector<double> outer;
  std::vector<double> inner;
};

/// Either half's scale and bloom applied to the other half.
HeldOut held_out_errors(const std::vector<Part>& parts) {
  HeldOut errors;
  for (const std::size_t first : {0, 1}) {
    std::vector<Part> fitted;
    for (std::size_t i = first; i < parts.size(); i += 2) fitted.push_back(parts[i]);
    const Scale scale = scale_of(fitted);
    std::printf("  %.5f mm/px, bloom %.2f px\n", scale.mm_per_px, scale.bloom_mm / scale.mm_per_px);
    for (std::size_t i = 1 - first; i < parts.size(); i += 2) {
      errors.outer.push_back(1000 * (scale.outer(parts[i]) - parts[i].outer_mm));
      errors.inner.push_back(1000 * (scale.inner(parts[i]) - parts[i].inner_mm));
      std::printf("  part %2d: outer %+5.1f, inner %+5.1f um\n", parts[i].id, errors.outer.back(), errors.inner.back());
    }
  }
  return errors;
}

TEST(Washers, DiametersAgreeWithTheMeasuringMachine) {
  const std::vector<Part> parts = traced_parts();
  ASSERT_EQ(parts.size(), 12U);
  for (const Part& p : parts) {
    ASSERT_GT(p.outer_px, 0) << "part " << p.id;
    ASSERT_GT(p.inner_px, 0) << "part " << p.id;
  }
  const HeldOut errors = held_out_errors(parts);
  std::printf("  held out: outer sd %.1f, usual %.1f; inner sd %.1f, usual %.1f um\n", standard_deviation(errors.outer),
              mad_sigma(errors.outer), standard_deviation(errors.inner), mad_sigma(errors.inner));
  // The parts are out of round by 10 to 25 um, which some touched points and a whole outline average differently, and
  // single rows of the table stand off their pictures (17 outside by 17 um; 9 and 39 inside by 25 um; others of like
  // table values do not). They stay in: the usual scatter is held to the aim (5 and 9 um), the standard deviation to
  // what those rows make of it.
  EXPECT_LE(mad_sigma(errors.outer), 5);
  EXPECT_LE(mad_sigma(errors.inner), 9);
  EXPECT_LE(standard_deviation(errors.outer), 7);
  EXPECT_LE(standard_deviation(errors.inner), 18);
  // No common error beyond what six parts leave open.
  EXPECT_LE(std::abs(mean(errors.outer)), 5);
  EXPECT_LE(std::abs(mean(errors.inner)), 9);
}

// The test can tell: without the bloom one scale cannot serve both diameters.
TEST(Washers, NeedABloomForBoreAndRimToAgree) {
  const std::vector<Part> parts = traced_parts();
  const Scale scale = scale_of(parts);
  std::vector<double> errors;
  for (const Part& p : parts) errors.push_back(1000 * (p.inner_px * p.outer_mm / p.outer_px - p.inner_mm));
  EXPECT_GT(mean(errors), 10);
  EXPECT_GT(scale.bloom_mm, 0);
}

}  // namespace
}  // namespace glintline
