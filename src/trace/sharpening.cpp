#include "trace/sharpening.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "math/linear_light.h"

namespace glintline {

namespace {

/// 0.6^8 < 0.02 of the halo is left at the strongest sharpening believed.
constexpr int kRounds = 8;

/// Weights of a Gaussian, sum 1, out to three sigma: [0] in the middle.
std::vector<double> half_kernel(double sigma) {
  std::vector<double> weights(static_cast<int>(std::ceil(3 * sigma)) + 1);
  double sum = 0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    weights[i] = std::exp(-0.5 * (i / sigma) * (i / sigma));
    sum += i == 0 ? weights[i] : 2 * weights[i];
  }
  for (double& w : weights) w /= sum;
  return weights;
}

std::vector<double> blurred(const std::vector<double>& levels, const std::vector<double>& kernel) {
  const std::size_t reach = kernel.size() - 1;
  // The ends are continued, so that the sums below run over plain stretches, which a compiler takes several at a time.
  std::vector<double> wide(levels.size() + 2 * reach, levels.front());
  std::copy(levels.begin(), levels.end(), wide.begin() + static_cast<std::ptrdiff_t>(reach));
  std::fill(wide.end() - static_cast<std::ptrdiff_t>(reach), wide.end(), levels.back());
  std::vector<double> out(levels.size());
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = kernel[0] * wide[i + reach];
  for (std::size_t k = 1; k <= reach; ++k) {
    const double* before = wide.data() + reach - k;
    const double* after = wide.data() + reach + k;
    for (std::size_t i = 0; i < out.size(); ++i) out[i] += kernel[k] * (before[i] + after[i]);
  }
  return out;
}

/// Mean halo, as a share of the step, of a printed black-white edge after blur and sharpening.
double overshoot_of(double blur_px, const Sharpening& sharpening) {
  constexpr double kStep = 0.25;   // px
  constexpr double kBlack = 0.04;  // reflectance of toner and of paper, about
  constexpr double kWhite = 0.75;
  std::vector<double> levels;
  for (double x = -12; x <= 12; x += kStep) {
    levels.push_back(srgb_code(kBlack + (kWhite - kBlack) * 0.5 * (1 + std::erf(x / (blur_px * std::sqrt(2.0))))));
  }
  const std::vector<double> soft = blurred(levels, half_kernel(sharpening.sigma_px / kStep));
  double most = 0;
  double least = 255;
  for (std::size_t i = 0; i < levels.size(); ++i) {
    const double v = levels[i] + sharpening.amount * (levels[i] - soft[i]);
    most = std::max(most, v);
    least = std::min(least, v);
  }
  return 0.5 * (most - levels.back() + levels.front() - least) / (levels.back() - levels.front());
}

}  // namespace

Sharpening sharpening_of(double blur_px, double overshoot) {
  Sharpening low;
  Sharpening high;
  high.amount = 1.5;
  if (!(overshoot > 0.005)) return low;
  for (int i = 0; i < 12; ++i) {
    Sharpening middle;
    middle.amount = 0.5 * (low.amount + high.amount);
    (overshoot_of(std::max(0.3, blur_px), middle) < overshoot ? low : high) = middle;
  }
  return low;
}

ProfileFilter::ProfileFilter(const Sharpening& sharpening, double px_per_sample)
    : share_(sharpening.amount / (1 + sharpening.amount)), kernel_(half_kernel(sharpening.sigma_px / px_per_sample)) {}

// Profiles come by the thousand and in a few lengths only: what all rounds together make of one is a matrix.
Eigen::MatrixXd ProfileFilter::rounds(std::size_t samples) const {
  const auto n = static_cast<Eigen::Index>(samples);
  Eigen::MatrixXd blur(n, n);
  for (Eigen::Index k = 0; k < n; ++k) {
    std::vector<double> one(samples, 0);
    one[static_cast<std::size_t>(k)] = 1;
    blur.col(k) = Eigen::Map<const Eigen::VectorXd>(blurred(one, kernel_).data(), n);
  }
  Eigen::MatrixXd all = Eigen::MatrixXd::Identity(n, n);
  for (int round = 0; round < kRounds; ++round) {
    all = share_ * blur * all;
    all.diagonal().array() += 1 - share_;
  }
  return all;
}

void ProfileFilter::take_out(std::vector<double>& levels) const {
  if (share_ <= 0 || levels.empty()) return;
  auto known = by_length_.find(levels.size());
  if (known == by_length_.end()) known = by_length_.emplace(levels.size(), rounds(levels.size())).first;
  Eigen::Map<Eigen::VectorXd> all(levels.data(), static_cast<Eigen::Index>(levels.size()));
  all = known->second * all;
}

cv::Mat linear_unsharpened(const cv::Mat& bgr, const Sharpening& sharpening) {
  cv::Mat levels;
  bgr.convertTo(levels, CV_32FC3);
  if (sharpening.amount > 0) {
    const double share = sharpening.amount / (1 + sharpening.amount);
    cv::Mat seen;
    cv::cvtColor(levels, seen, cv::COLOR_BGR2GRAY);
    cv::Mat luma = seen.clone();
    cv::Mat soft;
    for (int round = 0; round < kRounds; ++round) {
      cv::GaussianBlur(luma, soft, cv::Size(), sharpening.sigma_px, sharpening.sigma_px, cv::BORDER_REPLICATE);
      cv::addWeighted(seen, 1 - share, soft, share, 0, luma);
    }
    cv::Mat halo;
    cv::cvtColor(cv::Mat(seen - luma), halo, cv::COLOR_GRAY2BGR);
    levels -= halo;
  }
  const auto& light = linear_light();
  levels.forEach<cv::Vec3f>([&](cv::Vec3f& v, const int*) {
    for (int c = 0; c < 3; ++c) {
      const float code = std::clamp(v[c], 0.0F, 254.999F);
      const int below = static_cast<int>(code);
      v[c] = light[below] + (code - static_cast<float>(below)) * (light[below + 1] - light[below]);
    }
  });
  return levels;
}

}  // namespace glintline
