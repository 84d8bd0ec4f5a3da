#include "locate/saddle_fit.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace glintline {

namespace {

constexpr double kMarginSquares = 0.125;  // white margin between a square's edge and its marker
constexpr double kFullWindowPx = 7;       // each way; larger windows are sampled more sparsely off the edges
constexpr float kEdgeBandPx = 3;          // either side of an edge, where every pixel counts
constexpr double kNarrowestWindowPx = 4;
constexpr double kFirstBlurPx = 2.2;      // wide enough to catch a guess that is 3 px off
constexpr double kSharpestBlurPx = 0.35;  // below this a pixel's own width dominates
constexpr double kGuessErrorPx = 3;
constexpr double kGuessErrorSquares = 0.03;
constexpr float kRefinedReachPx = 1;
constexpr float kFoundPx = 0.5;  // the last step of the search: close enough to choose the pixels about the centre
constexpr int kMostSteps = 8;
constexpr float kSettledPx = 0.01;  // the last step of centre and blur; what is left after it is of second order

/// erf(z / sqrt 2) and its derivative, tabulated: two thousand pixels a saddle leave no time for erf itself.
class BlurredEdge {
 public:
  BlurredEdge() {
    for (int i = 0; i <= kSteps; ++i) {
      const double z = kReach * i / kSteps;
      value_[i] = static_cast<float>(std::erf(z / std::sqrt(2.0)));
      slope_[i] = static_cast<float>(std::sqrt(2 / M_PI) * std::exp(-z * z / 2));
    }
  }
  void at(float z, float& value, float& slope) const {
    const float t = std::min(std::abs(z) * (kSteps / kReach), static_cast<float>(kSteps) - 0.01F);
    const int i = static_cast<int>(t);
    const float f = t - static_cast<float>(i);
    const float v = value_[i] + f * (value_[i + 1] - value_[i]);
    value = z < 0 ? -v : v;
    slope = slope_[i] + f * (slope_[i + 1] - slope_[i]);
  }

 private:
  static constexpr int kSteps = 1024;
  static constexpr float kReach = 5;
  std::array<float, kSteps + 1> value_;
  std::array<float, kSteps + 1> slope_;
};

enum Parameter { kX, kY, kBlur, kLevel, kStep, kShadeX, kShadeY, kParameters };
using Vector = Eigen::Matrix<float, kParameters, 1>;
using Matrix = Eigen::Matrix<float, kParameters, kParameters>;

/// The pixels that take part, around a fixed origin (the rounded guess) to keep single precision sharp.
struct Patch {
  cv::Point origin;
  std::vector<float> x;
  std::vector<float> y;
  std::vector<float> level;
};

struct Geometry {
  Eigen::Matrix2f squares_from_px;
  Eigen::Vector2f normal_u;  // unit normals of the two edges
  Eigen::Vector2f normal_v;
  float half_squares = 0;     // half window, in squares
  Eigen::Vector2f window_px;  // half the window's bounding box, px
  float half_px = 0;          // half window at its narrowest
  float reach_px = 0;         // how far the saddle may lie from the guess
  int one_in = 1;             // off the edges one of so many pixels takes part
  float polarity = 1;
};

std::optional<Geometry> geometry_of(const SaddleGuess& guess) {
  Geometry g;
  const Eigen::Matrix2d inverse = guess.px_from_squares.inverse();
  if (!inverse.allFinite()) return std::nullopt;
  g.squares_from_px = inverse.cast<float>();
  const double width_px = 1 / std::max(inverse.row(0).norm(), inverse.row(1).norm());
  constexpr double kClearOfMarkerPx = 1.5;
  const double margin_px = kMarginSquares * width_px;
  const double half_px = std::max(kNarrowestWindowPx, margin_px - kClearOfMarkerPx);
  if (half_px > 2 * margin_px) return std::nullopt;
  g.half_px = static_cast<float>(half_px);
  g.half_squares = static_cast<float>(half_px / width_px);
  g.window_px = (guess.px_from_squares.cwiseAbs().rowwise().sum() * g.half_squares).cast<float>();
  g.reach_px = static_cast<float>(std::max(kGuessErrorPx, kGuessErrorSquares * width_px));
  g.one_in = static_cast<int>(std::ceil(half_px * half_px / (kFullWindowPx * kFullWindowPx)));
  g.normal_u = inverse.row(0).normalized().transpose().cast<float>();
  g.normal_v = inverse.row(1).normalized().transpose().cast<float>();
  g.polarity = guess.dark_top_left ? -1.0F : 1.0F;
  return g;
}

/// How densely a patch is sampled.
enum class Sampling {
  kThin,   ///< one_in everywhere: for finding the centre
  kEdges,  ///< every pixel along the edges, one_in elsewhere: for measuring it
};

/// The pixels of the window about `centre_px`, and `slack_px` around it for a centre that moves. The choice of pixels
/// is symmetric about the centre (to a pixel's fraction), as the misfits of spread ink and sharpening are: these then
/// cannot pull it aside.
std::optional<Patch> patch_around(const cv::Mat& bgr, const LinearLight& light, const Point2& centre_px, float slack_px,
                                  const Geometry& g, Sampling sampling) {
  Patch patch;
  patch.x.reserve(512);
  patch.y.reserve(512);
  patch.level.reserve(512);
  patch.origin = {static_cast<int>(std::lround(centre_px.x())), static_cast<int>(std::lround(centre_px.y()))};
  const Eigen::Vector2f rest = (centre_px - Point2(patch.origin.x, patch.origin.y)).cast<float>();
  const int nx = static_cast<int>(g.window_px.x() + slack_px + 1);
  const int ny = static_cast<int>(g.window_px.y() + slack_px + 1);
  const cv::Rect box(patch.origin.x - nx, patch.origin.y - ny, 2 * nx + 1, 2 * ny + 1);
  if ((box & cv::Rect(0, 0, bgr.cols, bgr.rows)) != box) return std::nullopt;
  const float half_u = g.half_squares + slack_px * g.squares_from_px.row(0).norm();
  const float half_v = g.half_squares + slack_px * g.squares_from_px.row(1).norm();
  for (int j = -ny; j <= ny; ++j) {
    const std::uint8_t* row = bgr.ptr<std::uint8_t>(patch.origin.y + j);
    // A slanted lattice keeps its share of every row and column, so that no upright edge slips between its points.
    int to_lattice = (((-nx + 2 * j) % g.one_in) + g.one_in) % g.one_in;
    for (int i = -nx; i <= nx; ++i) {
      const bool on_lattice = to_lattice == 0;
      to_lattice = to_lattice + 1 == g.one_in ? 0 : to_lattice + 1;
      if (!on_lattice && sampling == Sampling::kThin) continue;
      const Eigen::Vector2f at(static_cast<float>(i), static_cast<float>(j));
      const Eigen::Vector2f from_centre = at - rest;
      const bool on_edge =
          std::abs(g.normal_u.dot(from_centre)) < kEdgeBandPx || std::abs(g.normal_v.dot(from_centre)) < kEdgeBandPx;
      if (!on_lattice && !on_edge) continue;
      const Eigen::Vector2f uv = g.squares_from_px * from_centre;
      if (std::abs(uv.x()) > half_u || std::abs(uv.y()) > half_v) continue;
      patch.x.push_back(at.x());
      patch.y.push_back(at.y());
      patch.level.push_back(light(row + 3 * (patch.origin.x + i)));
    }
  }
  return patch;
}

/// Weighted normal equations of one Gauss-Newton step, and the sums the figures of merit are made of.
struct Normal {
  Matrix jtj = Matrix::Zero();
  Vector jtr = Vector::Zero();
  float weight = 0;
  float residual = 0;  // sum of w r^2
  float level = 0;     // sum of w I
  float square = 0;    // sum of w I^2
  int pixels = 0;
};

class Fit {
 public:
  Fit(const Patch& patch, const Geometry& geometry) : patch_(patch), g_(geometry) {
    root_weights_.reserve(patch.x.size());
    rows_.resize(static_cast<Eigen::Index>(patch.x.size()), kParameters + 1);
  }

  [[nodiscard]] Normal normal(const Vector& p) {
    Normal n;
    Eigen::Index used = 0;
    root_weights_.clear();
    for (std::size_t i = 0; i < patch_.x.size(); ++i) {
      const float w = weight(patch_.x[i] - p[kX], patch_.y[i] - p[kY]);
      if (w <= 0) continue;
      const float level = patch_.level[i];
      root_weights_.push_back(std::sqrt(w));
      const float r = row(p, i, root_weights_.back(), rows_.data() + used * (kParameters + 1));
      n.weight += w;
      n.residual += w * r * r;
      n.level += w * level;
      n.square += w * level * level;
      ++used;
    }
    const auto taken = rows_.topRows(used);
    const Eigen::Matrix<float, kParameters + 1, kParameters + 1> all = taken.transpose() * taken;
    n.jtj = all.topLeftCorner<kParameters, kParameters>();
    n.jtr = all.topRightCorner<kParameters, 1>();
    n.pixels = static_cast<int>(used);
    return n;
  }

  /// What white noise of unit variance puts into `jtr` of the last call of normal().
  [[nodiscard]] Matrix noise() {
    // The rows hold a root of the weight already; their products want the whole weight once more.
    auto taken = rows_.topLeftCorner(static_cast<Eigen::Index>(root_weights_.size()), kParameters);
    for (std::size_t i = 0; i < root_weights_.size(); ++i) taken.row(static_cast<Eigen::Index>(i)) *= root_weights_[i];
    return taken.transpose() * taken;
  }

  /// Levels at a given centre and blur, by two passes over the fading window.
  void start_levels(Vector& p) const {
    double sw = 0, si = 0, sp = 0, spp = 0, sip = 0;
    for (std::size_t i = 0; i < patch_.x.size(); ++i) {
      const float dx = patch_.x[i] - p[kX];
      const float dy = patch_.y[i] - p[kY];
      const float w = weight(dx, dy);
      if (w <= 0) continue;
      float e1, e2, d1, d2;
      edges(dx, dy, p[kBlur], e1, e2, d1, d2);
      const float q = g_.polarity * e1 * e2;
      sw += w;
      si += w * patch_.level[i];
      sp += w * q;
      spp += w * q * q;
      sip += w * q * patch_.level[i];
    }
    const double det = sw * spp - sp * sp;
    p[kStep] = static_cast<float>((sw * sip - sp * si) / det);
    p[kLevel] = static_cast<float>((si - p[kStep] * sp) / sw);
  }

 private:
  [[nodiscard]] float weight(float dx, float dy) const {
    const Eigen::Vector2f uv = g_.squares_from_px * Eigen::Vector2f(dx, dy) / g_.half_squares;
    const float a = 1 - uv.x() * uv.x();
    const float b = 1 - uv.y() * uv.y();
    return a <= 0 || b <= 0 ? 0.0F : a * b;
  }

  void edges(float dx, float dy, float blur, float& e1, float& e2, float& d1, float& d2) const {
    static const BlurredEdge kEdge;
    kEdge.at((g_.normal_u.x() * dx + g_.normal_u.y() * dy) / blur, e1, d1);
    kEdge.at((g_.normal_v.x() * dx + g_.normal_v.y() * dy) / blur, e2, d2);
  }

  /// Writes the weighted derivatives and residual of pixel i; returns the unweighted residual.
  float row(const Vector& p, std::size_t i, float root_w, float* out) const {
    const float dx = patch_.x[i] - p[kX];
    const float dy = patch_.y[i] - p[kY];
    float e1, e2, d1, d2;
    edges(dx, dy, p[kBlur], e1, e2, d1, d2);
    const float shade = 1 + p[kShadeX] * dx + p[kShadeY] * dy;
    const float flat = p[kLevel] + p[kStep] * g_.polarity * e1 * e2;
    const float slope = shade * p[kStep] * g_.polarity / p[kBlur];
    const float along_u = slope * d1 * e2;
    const float along_v = slope * e1 * d2;
    const float distance_u = g_.normal_u.x() * dx + g_.normal_u.y() * dy;
    const float distance_v = g_.normal_v.x() * dx + g_.normal_v.y() * dy;
    const float r = patch_.level[i] - shade * flat;
    out[kX] = -root_w * (along_u * g_.normal_u.x() + along_v * g_.normal_v.x() + p[kShadeX] * flat);
    out[kY] = -root_w * (along_u * g_.normal_u.y() + along_v * g_.normal_v.y() + p[kShadeY] * flat);
    out[kBlur] = -root_w * (along_u * distance_u + along_v * distance_v) / p[kBlur];
    out[kLevel] = root_w * shade;
    out[kStep] = root_w * shade * g_.polarity * e1 * e2;
    out[kShadeX] = root_w * dx * flat;
    out[kShadeY] = root_w * dy * flat;
    out[kParameters] = root_w * r;
    return r;
  }

  const Patch& patch_;
  const Geometry& g_;
  Eigen::Matrix<float, Eigen::Dynamic, kParameters + 1, Eigen::RowMajor> rows_;
  std::vector<float> root_weights_;
};

// One damped step; false where the equations break down.
bool advance(const Normal& n, float widest_blur, Vector& p, float& moved) {
  Matrix damped = n.jtj;
  damped.diagonal() *= 1.0F + 1e-4F;
  Vector step = damped.ldlt().solve(n.jtr);
  if (!step.allFinite()) return false;
  constexpr float kLongestStepPx = 1.5;
  const float length = step.head<2>().norm();
  if (length > kLongestStepPx) step *= kLongestStepPx / length;
  const float blur_before = p[kBlur];
  p += step;
  p[kBlur] = std::clamp(p[kBlur], static_cast<float>(kSharpestBlurPx), widest_blur);
  moved = std::max(step.head<2>().norm(), std::abs(p[kBlur] - blur_before));
  return true;
}

SaddleFit fit_of(const Vector& p, const Normal& n, const Matrix& noise, const cv::Point& origin) {
  SaddleFit fit;
  fit.px = Point2(origin.x + static_cast<double>(p[kX]), origin.y + static_cast<double>(p[kY]));
  fit.blur_px = p[kBlur];
  fit.contrast = p[kStep] / p[kLevel];
  const double variance = n.residual / n.weight * n.pixels / std::max(1, n.pixels - static_cast<int>(kParameters));
  const Matrix inverse = n.jtj.ldlt().solve(Matrix::Identity());
  const Matrix covariance = inverse * noise * inverse;
  fit.u_px = std::sqrt(variance * (covariance(kX, kX) + covariance(kY, kY)) / 2);
  const double spread = n.square - n.level * n.level / n.weight;
  fit.likeness = spread > 0 ? 1 - n.residual / spread : 0;
  return fit;
}

/// Where an iteration begins.
struct Start {
  Point2 px;
  float blur_px;
};

/// How an iteration samples and when it ends.
struct Pass {
  Sampling sampling;
  float reach_px;  // the centre may move so far
  float settled_px;
  int most_steps;
};

std::optional<SaddleFit> settled(const cv::Mat& bgr, const LinearLight& light, const Geometry& geometry,
                                 const Start& start, const Pass& pass) {
  const auto patch = patch_around(bgr, light, start.px, pass.reach_px, geometry, pass.sampling);
  if (!patch) return std::nullopt;
  Fit fit(*patch, geometry);
  Vector p = Vector::Zero();
  p[kX] = static_cast<float>(start.px.x() - patch->origin.x);
  p[kY] = static_cast<float>(start.px.y() - patch->origin.y);
  const Eigen::Vector2f begin = p.head<2>();
  p[kBlur] = start.blur_px;
  fit.start_levels(p);
  float moved = 1;
  Normal last;
  for (int i = 0; i < pass.most_steps && moved > pass.settled_px; ++i) {
    last = fit.normal(p);
    if (!advance(last, geometry.half_px, p, moved)) return std::nullopt;
    if (!((p.head<2>() - begin).norm() <= pass.reach_px)) return std::nullopt;
  }
  if (!(p[kStep] > 0) || !(p[kLevel] > 0)) return std::nullopt;
  // The last step is so short that misfit and derivatives before it serve for the solution.
  return fit_of(p, last, fit.noise(), patch->origin);
}

}  // namespace

std::optional<SaddleFit> fit_saddle(const cv::Mat& bgr, const LinearLight& light, const SaddleGuess& guess) {
  if (!guess.px.allFinite()) return std::nullopt;
  const std::optional<Geometry> geometry = geometry_of(guess);
  if (!geometry) return std::nullopt;
  Start start{guess.px, std::min(static_cast<float>(kFirstBlurPx), geometry->half_px / 2)};
  const auto rough = settled(bgr, light, *geometry, start, {Sampling::kThin, geometry->reach_px, kFoundPx, kMostSteps});
  if (!rough) return std::nullopt;
  start = {rough->px, static_cast<float>(rough->blur_px)};
  return settled(bgr, light, *geometry, start, {Sampling::kEdges, kRefinedReachPx, kSettledPx, kMostSteps});
}

}  // namespace glintline
