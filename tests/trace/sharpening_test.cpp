#include "trace/sharpening.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <opencv2/imgproc.hpp>
#include <vector>

namespace glintline {
namespace {

double encoded(double light) {
  return 255 * (light > 0.0031308 ? 1.055 * std::pow(light, 1 / 2.4) - 0.055 : 12.92 * light);
}

/// Encoded level across an edge at 0 between two reflectances, blurred in linear light.
struct Edge {
  double dark;
  double bright;
  double blur_px;
  [[nodiscard]] double at(double x) const {
    return encoded(dark + (bright - dark) * 0.5 * std::erfc(-x / (blur_px * std::sqrt(2.0))));
  }
};

/// Unsharp mask of a continuous profile: the mask's blur by quadrature over +-5 sigma.
double sharpened(const Edge& edge, double x, double amount, double sigma) {
  constexpr double kStep = 0.02;
  double sum = 0;
  double weights = 0;
  for (double t = -5; t <= 5; t += kStep) {
    const double w = std::exp(-0.5 * t * t);
    sum += w * edge.at(x + sigma * t);
    weights += w;
  }
  return edge.at(x) + amount * (edge.at(x) - sum / weights);
}

std::vector<double> sampled(const std::function<double(double)>& level, double from, double to, double step) {
  std::vector<double> levels;
  for (double x = from; x <= to; x += step) levels.push_back(level(x));
  return levels;
}

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  double most = 0;
  for (std::size_t i = 0; i < a.size(); ++i) most = std::max(most, std::abs(a[i] - b[i]));
  return most;
}

TEST(Sharpening, IsTakenOutAgain) {
  for (const double amount : {0.3, 0.8, 1.2}) {
    for (const double blur : {0.7, 1.2, 2.0}) {
      const Edge edge{0.06, 0.5, blur};
      const auto before = sampled([&](double x) { return edge.at(x); }, -14, 14, 0.8);
      auto levels = sampled([&](double x) { return sharpened(edge, x, amount, 1.4); }, -14, 14, 0.8);
      const double halo = largest_difference(levels, before);
      ASSERT_GT(halo, 1) << "codes: there must be something to take out";
      ProfileFilter({amount, 1.4}, 0.8).take_out(levels);
      // Eight rounds leave up to a fiftieth of the halo; sampling at 0.8 px of a 1.4 px mask as much again.
      EXPECT_LT(largest_difference(levels, before), 0.05 * halo) << amount << " " << blur;
    }
  }
}

// A camera sharpens brightness: between a dim grey and a blue that is brighter in blue alone, the blue's own halo goes
// with the brightness, against its own step. Eight bits round each level by half a code.
TEST(Sharpening, IsTakenOutOfColourByBrightness) {
  cv::Mat before(40, 60, CV_32FC3);
  for (int j = 0; j < before.rows; ++j) {
    for (int i = 0; i < before.cols; ++i) {
      const float share = 0.5F * static_cast<float>(1 + std::erf((i - 30) / (0.9 * std::sqrt(2.0))));
      before.at<cv::Vec3f>(j, i) = cv::Vec3f(60, 90, 100) * (1 - share) + cv::Vec3f(170, 40, 20) * share;
    }
  }
  cv::Mat grey;
  cv::Mat soft;
  cv::cvtColor(before, grey, cv::COLOR_BGR2GRAY);
  cv::GaussianBlur(grey, soft, cv::Size(), 1.4);
  cv::Mat halo;
  cv::cvtColor(cv::Mat(0.6 * (grey - soft)), halo, cv::COLOR_GRAY2BGR);
  cv::Mat seen;
  cv::Mat(before + halo).convertTo(seen, CV_8UC3);
  double most = 0;
  cv::minMaxLoc(halo.reshape(1), nullptr, &most);
  ASSERT_GT(most, 3) << "codes: there must be something to take out";
  const cv::Mat linear = linear_unsharpened(seen, {0.6, 1.4});
  for (int i = 10; i < 50; ++i) {
    for (int c = 0; c < 3; ++c) {
      const double code = encoded(linear.at<cv::Vec3f>(20, i)[c]);
      EXPECT_NEAR(code, before.at<cv::Vec3f>(20, i)[c], 1) << i << " " << c;
    }
  }
}

TEST(Sharpening, OfNothingChangesNothing) {
  std::vector<double> levels{1, 7, 3, 200};
  ProfileFilter({0, 1.4}, 0.8).take_out(levels);
  EXPECT_EQ(levels, (std::vector<double>{1, 7, 3, 200}));
}

TEST(Sharpening, LeavesAPlainSurfaceAlone) {
  std::vector<double> levels(40, 123.0);
  ProfileFilter({1.0, 1.4}, 0.8).take_out(levels);
  for (const double v : levels) EXPECT_NEAR(v, 123, 1e-9);
}

// A filter is used for profiles of any length: the shorter one's middle sees none of its ends.
TEST(Sharpening, IsTakenOutOfAnyLengthAlike) {
  const ProfileFilter filter({0.8, 1.4}, 0.8);
  const Edge edge{0.06, 0.5, 1.0};
  const auto level = [&](double x) { return sharpened(edge, x, 0.8, 1.4); };
  std::vector<double> shorter = sampled(level, -20, 20.1, 0.8);
  std::vector<double> longer = sampled(level, -28, 28.1, 0.8);
  filter.take_out(shorter);
  filter.take_out(longer);
  filter.take_out(shorter);  // once more, from what is kept
  filter.take_out(longer);
  for (std::size_t i = 15; i + 15 < shorter.size(); ++i) EXPECT_NEAR(shorter[i], longer[i + 10], 0.05) << i;
}

/// Mean overshoot of a printed edge over both its sides, share of the step.
double overshoot(const Edge& edge, double amount) {
  const auto levels = sampled([&](double x) { return sharpened(edge, x, amount, 1.4); }, -15, 15, 0.1);
  const auto [least, most] = std::minmax_element(levels.begin(), levels.end());
  const double dark = encoded(edge.dark);
  const double bright = encoded(edge.bright);
  return 0.5 * (*most - bright + dark - *least) / (bright - dark);
}

// Prints' blacks and whites differ from those assumed: 0.2 of amount, a fifth of a strong mask.
TEST(Sharpening, IsToldFromThePrintsOvershoot) {
  for (const auto& [dark, bright] : {std::pair{0.04, 0.75}, {0.03, 0.6}, {0.07, 0.85}}) {
    for (const double blur : {0.7, 1.0, 1.5}) {
      for (const double amount : {0.2, 0.6, 1.0, 1.3}) {
        const Sharpening found = sharpening_of(blur, overshoot({dark, bright, blur}, amount));
        EXPECT_NEAR(found.amount, amount, 0.2) << "blur " << blur << " dark " << dark << " bright " << bright;
      }
    }
  }
}

// A soft print hardly overshoots: at a blur of 2 px an amount of 0.6 makes a halo of a third of a percent.
TEST(Sharpening, IsNeverOverstatedWhereThePrintIsSoft) {
  for (const double blur : {2.0, 2.5, 3.0}) {
    for (const double amount : {0.2, 0.6, 1.0, 1.3}) {
      EXPECT_LT(sharpening_of(blur, overshoot({0.05, 0.7, blur}, amount)).amount, amount + 0.2) << blur;
    }
  }
}

TEST(Sharpening, IsNoneWithoutOvershootAndNeverOverTheMostBelieved) {
  EXPECT_EQ(sharpening_of(1.2, 0).amount, 0);
  EXPECT_EQ(sharpening_of(1.2, -0.1).amount, 0);
  EXPECT_EQ(sharpening_of(1.2, std::nan("")).amount, 0);
  EXPECT_LE(sharpening_of(1.2, 5).amount, 1.5);
  EXPECT_GT(sharpening_of(1.2, 5).amount, 1.45);
}

}  // namespace
}  // namespace glintline
