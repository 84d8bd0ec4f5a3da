#include "trace/plan_rim.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "math/blurred_step.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Blur of the steps, samples.
constexpr double kLeastWidth = 0.8;
constexpr double kMostWidth = 4;
constexpr double kWidthRatio = 1.12;
constexpr double kPlaceStep = 0.5;
constexpr double kMostPlace = 1.5;  ///< of the strongest step beside its crest
/// A second step nearer than this many samples is no more than a wider first one.
constexpr double kLeastApart = 3;
constexpr double kMostApart = 24;  ///< samples
/// Share of the first step that the second has at least, and of the single step's residual that it explains.
constexpr double kLeastHeight = 0.1;
constexpr double kExplained = 0.7;
/// From these shares on a second step is possible, and from so many of the blur's widths: nearer it makes no shoulder.
constexpr double kPossibleHeight = 0.2;
constexpr double kPossiblyExplained = 0.3;
constexpr double kShoulder = 2;
constexpr double kHalfSpan = 2;  ///< samples to either side over which a change is taken
/// Least height in standard deviations of the change where nothing lies.
constexpr double kClear = 7;

struct Fit {
  double residual = std::numeric_limits<double>::infinity();
  double apart = 0;
  double first = 0;  ///< heights
  double second = 0;
  double width = 0;  ///< of the blur
};

/// Part of the change that is fitted.
struct Window {
  Eigen::VectorXd change;
  int first = 0;
};

/// Images of steps of one blur at places a grid step apart.
class Steps {
 public:
  Steps(const Window& window, double width) : size_(window.change.size()) {
    const double reach = kMostApart + static_cast<double>(size_);
    for (double t = -reach; t <= reach; t += kPlaceStep)
      table_.push_back(blurred_step((t + kHalfSpan) / width) - blurred_step((t - kHalfSpan) / width));
    middle_ = static_cast<Eigen::Index>(std::lround(reach / kPlaceStep));
  }
  /// A step `place` samples from the window's beginning.
  [[nodiscard]] Eigen::VectorXd at(double place) const {
    constexpr auto kPerSample = static_cast<Eigen::Index>(1 / kPlaceStep);
    const Eigen::Index from = middle_ - static_cast<Eigen::Index>(std::lround(place / kPlaceStep));
    Eigen::VectorXd out(size_);
    for (Eigen::Index k = 0; k < size_; ++k) out[k] = table_[static_cast<std::size_t>(from + kPerSample * k)];
    return out;
  }

 private:
  Eigen::Index size_;
  Eigen::Index middle_ = 0;
  std::vector<double> table_;
};

/// One step and two, the first within kMostPlace of the sample `crest` of the window.
struct Fits {
  Fit one;
  Fit two;
};

void fit_second(const Window& window, const Steps& steps, double width, double x1, Fit& best) {
  const Eigen::VectorXd a = steps.at(x1);
  const double aa = a.squaredNorm();
  const double ay = a.dot(window.change);
  for (double apart = kLeastApart; apart < kMostApart; apart += kPlaceStep) {
    const Eigen::VectorXd b = steps.at(x1 + apart);
    const double bb = b.squaredNorm();
    const double ab = a.dot(b);
    const double by = b.dot(window.change);
    const double det = aa * bb - ab * ab;
    if (!(det > 1e-9 * aa * bb)) continue;
    const double h1 = (bb * ay - ab * by) / det;
    const double h2 = (aa * by - ab * ay) / det;
    if (h1 <= 0 || h2 <= 0) continue;
    const double rest = window.change.squaredNorm() - h1 * ay - h2 * by;
    if (rest < best.residual) best = {rest, apart, h1, h2, width};
  }
}

Fits fit_steps(const Window& window, double crest) {
  Fits best;
  for (double width = kLeastWidth; width < kMostWidth; width *= kWidthRatio) {
    const Steps steps(window, width);
    for (double x1 = crest - kMostPlace; x1 <= crest + kMostPlace; x1 += kPlaceStep) {
      const Eigen::VectorXd a = steps.at(x1);
      const double h = a.dot(window.change) / a.squaredNorm();
      const double rest = window.change.squaredNorm() - h * a.dot(window.change);
      if (rest < best.one.residual) best.one = {rest, 0, h, 0, width};
      fit_second(window, steps, width, x1, best.two);
    }
  }
  return best;
}

}  // namespace

std::optional<RimStep> second_step(const Eigen::VectorXd& change, int crest) {
  constexpr int kInside = 1;  // samples inside the crest: further in lie the lit part's own steps
  constexpr int kFar = 12;    // from here on outwards, what lies below
  const auto size = static_cast<int>(change.size());
  if (crest < kInside || crest + kFar + 6 > size) return std::nullopt;
  std::vector<double> far(change.data() + crest + kFar, change.data() + size);
  const double base = median(far);
  for (double& v : far) v = std::abs(v - base);
  const double noise = kMadToSigma * median(far);
  Window window;
  window.first = crest - kInside;
  window.change = (change.segment(window.first, std::min(size - window.first, kInside + 28)).array() - base).matrix();
  const auto [one, two] = fit_steps(window, kInside);
  if (!(two.second > kClear * noise)) return std::nullopt;
  const auto holds = [&](double height, double explained) {
    return two.second > height * two.first && two.residual <= (1 - explained) * one.residual;
  };
  if (holds(kLeastHeight, kExplained)) return RimStep{two.apart, false};
  if (two.apart >= kShoulder * two.width && holds(kPossibleHeight, kPossiblyExplained)) return RimStep{two.apart, true};
  return std::nullopt;
}

}  // namespace glintline
