#include "locate/edge_blur.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace glintline {

namespace {

constexpr double kBandSquares = 0.125;       // white margin before the marker
constexpr double kClearOfMarkerBlurs = 2.5;  // the marker's own blurred border reaches so far into the margin
constexpr double kLeastBandBlurs = 2;
constexpr int kPixelsPerEdge = 250;  // enough for 3 % of blur; more would cost time only
constexpr double kClean = 0.97;      // share of variance explained; sawdust and stains fall below
constexpr double kSharpened = 0.85;  // the same under a camera's strongest sharpening, whose halo no blurred step has
constexpr double kHaloPx = 4;        // from an edge, a halo reaches so far (masks of up to two pixels, by experience)

struct Sample {
  double distance_px;
  double level;
};

std::vector<Sample> samples_along(const cv::Mat& bgr, const LinearLight& light, const PrintedEdge& edge,
                                  double rough_blur_px) {
  const Point2 along = edge.to_px - edge.from_px;
  const double length = along.norm();
  const Point2 unit = along / length;
  const double band =
      std::max(kLeastBandBlurs * rough_blur_px, kBandSquares * edge.square_px - kClearOfMarkerBlurs * rough_blur_px);
  const int stride = std::max(1, static_cast<int>(std::sqrt(length * band / kPixelsPerEdge)));
  const Point2 middle = (edge.from_px + edge.to_px) / 2;
  const double reach = length / 4 + band;
  const int x0 = std::max(0, static_cast<int>(middle.x() - reach));
  const int y0 = std::max(0, static_cast<int>(middle.y() - reach));
  const int x1 = std::min(bgr.cols - 1, static_cast<int>(middle.x() + reach));
  const int y1 = std::min(bgr.rows - 1, static_cast<int>(middle.y() + reach));
  std::vector<Sample> samples;
  for (int y = y0; y <= y1; y += stride) {
    for (int x = x0; x <= x1; x += stride) {
      const Point2 from_middle = Point2(x, y) - middle;
      const double d = from_middle.dot(edge.to_white);
      if (std::abs(from_middle.dot(unit)) > length / 4 || std::abs(d) > band) continue;
      samples.push_back({d, light(bgr.ptr<std::uint8_t>(y) + 3 * x)});
    }
  }
  return samples;
}

struct StepFit {
  double level = 0;  // a
  double step = 0;   // b
  double at_px = 0;  // d0
  double blur_px = 1;
  double likeness = 0;
};

std::optional<StepFit> fit_step(const std::vector<Sample>& samples, double rough_blur_px) {
  if (samples.size() < 40) return std::nullopt;
  double dark = 0, bright = 0, mean = 0;
  int darks = 0, brights = 0;
  for (const Sample& s : samples) {
    (s.distance_px < 0 ? dark : bright) += s.level;
    ++(s.distance_px < 0 ? darks : brights);
    mean += s.level / static_cast<double>(samples.size());
  }
  if (darks == 0 || brights == 0) return std::nullopt;
  // Parameters: level, half step, place, blur, shading.
  Eigen::Matrix<double, 5, 1> p;
  p << (bright / brights + dark / darks) / 2, (bright / brights - dark / darks) / 2, 0, rough_blur_px, 0;
  double misfit = 0;
  for (int round = 0; round < 8; ++round) {
    Eigen::Matrix<double, 5, 5> jtj = Eigen::Matrix<double, 5, 5>::Zero();
    Eigen::Matrix<double, 5, 1> jtr = Eigen::Matrix<double, 5, 1>::Zero();
    misfit = 0;
    for (const Sample& s : samples) {
      const double z = (s.distance_px - p[2]) / p[3];
      const double e = std::erf(z / std::sqrt(2.0));
      const double slope = std::sqrt(2 / M_PI) * std::exp(-z * z / 2) / p[3];
      const double shade = 1 + p[4] * s.distance_px;
      const double r = s.level - shade * (p[0] + p[1] * e);
      Eigen::Matrix<double, 5, 1> j;
      j << shade, shade * e, -shade * p[1] * slope, -shade * p[1] * slope * z, s.distance_px * (p[0] + p[1] * e);
      jtj.noalias() += j * j.transpose();
      jtr += j * r;
      misfit += r * r;
    }
    jtj.diagonal() *= 1 + 1e-6;
    Eigen::Matrix<double, 5, 1> step = jtj.ldlt().solve(jtr);
    if (!step.allFinite()) return std::nullopt;
    step[2] = std::clamp(step[2], -1.0, 1.0);
    step[3] = std::clamp(step[3], -0.5 * p[3], p[3]);
    p += step;
    if (std::abs(step[2]) + std::abs(step[3]) < 5e-3) break;
  }
  double spread = 0;
  for (const Sample& s : samples) spread += (s.level - mean) * (s.level - mean);
  if (!(p[1] > 0) || !(spread > 0)) return std::nullopt;
  return StepFit{p[0], p[1], p[2], p[3], 1 - misfit / spread};
}

/// Mean profile across the edges in encoded levels, 0 on the black plateau and 1 on the white one.
class Profile {
 public:
  void add(const std::vector<Sample>& samples, const StepFit& fit) {
    const double reach_px = std::max(kReach * fit.blur_px, kHaloPx);
    const double far_px = reach_px + 0.5;
    double dark = 0, bright = 0;
    int darks = 0, brights = 0;
    for (const Sample& s : samples) {
      const double d = s.distance_px - fit.at_px;
      if (d < -far_px) dark += srgb_code(s.level), ++darks;
      if (d > far_px) bright += srgb_code(s.level), ++brights;
    }
    if (darks < 10 || brights < 10) return;
    dark /= darks;
    bright /= brights;
    for (const Sample& s : samples) {
      const double z = (s.distance_px - fit.at_px) / reach_px * kReach;
      if (std::abs(z) >= kReach) continue;
      const int bin = static_cast<int>((z + kReach) / kBin);
      sum_[bin] += (srgb_code(s.level) - dark) / (bright - dark);
      ++count_[bin];
    }
  }

  /// Mean of both halos: how far the profile leaves the plateaus beyond a blur from the edge.
  [[nodiscard]] double overshoot() const {
    double above = 0;
    double below = 0;
    for (int bin = 0; bin < kBins; ++bin) {
      const double z = (bin + 0.5) * kBin - kReach;
      if (count_[bin] < 20 || std::abs(z) < 1) continue;
      const double level = sum_[bin] / count_[bin];
      if (z > 0) above = std::max(above, level - 1);
      if (z < 0) below = std::max(below, -level);
    }
    return (above + below) / 2;
  }

 private:
  static constexpr double kReach = 3.5;  // in blurs, or as far as a halo reaches
  static constexpr double kBin = 0.35;
  static constexpr int kBins = 20;
  std::array<double, kBins> sum_{};
  std::array<int, kBins> count_{};
};

}  // namespace

EdgeBlur edge_blur(const cv::Mat& bgr, const LinearLight& light, const std::vector<PrintedEdge>& edges,
                   double rough_blur_px) {
  std::vector<std::pair<std::vector<Sample>, StepFit>> fitted;
  for (const PrintedEdge& edge : edges) {
    std::vector<Sample> samples = samples_along(bgr, light, edge, rough_blur_px);
    if (const std::optional<StepFit> fit = fit_step(samples, rough_blur_px))
      fitted.emplace_back(std::move(samples), *fit);
  }
  const auto clean =
      std::count_if(fitted.begin(), fitted.end(), [](const auto& e) { return e.second.likeness >= kClean; });
  constexpr int kFewest = 8;  // of a dirty card, too, more are clean
  const double likeness = clean < kFewest ? kSharpened : kClean;
  std::vector<double> blurs;
  Profile profile;
  for (const auto& [samples, fit] : fitted) {
    if (fit.likeness < likeness) continue;
    blurs.push_back(fit.blur_px);
    profile.add(samples, fit);
  }
  EdgeBlur result;
  result.edges = static_cast<int>(blurs.size());
  if (blurs.empty()) return result;
  std::nth_element(blurs.begin(), blurs.begin() + static_cast<std::ptrdiff_t>(blurs.size() / 2), blurs.end());
  result.blur_px = blurs[blurs.size() / 2];
  result.overshoot = profile.overshoot();
  return result;
}

}  // namespace glintline
