#include "locate/lens_fit.h"

#include <ceres/ceres.h>
#include <ceres/rotation.h>

#include <algorithm>
#include <cmath>
#include <opencv2/calib3d.hpp>

#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kTukey = 4.685;   // 95 % efficient at normal errors
constexpr double kFloorPx = 0.01;  // print and pixels are never better than this
constexpr int kRounds = 8;
constexpr double kFirstMisfitShare = 0.02;     // of the longer side: a poor start throws nothing out
constexpr double kUsualFocalDiagonals = 0.62;  // 27 mm over the film's diagonal: a usual phone
// What is believed before: see the header.
constexpr double kLogFocalU = 0.7;
constexpr double kLogAspectU = 0.001;
constexpr double kCentreShareU = 0.1;
constexpr double kRadialU = 0.5;
constexpr double kTangentialU = 0.01;

// Free parameters of the camera: the aspect instead of fy, logarithms for lengths.
enum LensUnknown : int {
  kFreeLogF,
  kFreeLogAspect,
  kFreeX0,
  kFreeY0,
  kFreeK1,
  kFreeK2,
  kFreeP1,
  kFreeP2,
  kFreeK3,
  kLensUnknowns
};
enum SheetUnknown : int { kSheetUnlike, kSheetBowX, kSheetBowY, kSheetUnknowns };
constexpr int kPoseUnknowns = 6;  // angle-axis; translation, mm

/// The camera's, the sheet's and every sight's free parameters.
struct Unknowns {
  std::array<double, kLensUnknowns> lens{};
  std::array<double, kSheetUnknowns> sheet{};
  std::vector<std::array<double, kPoseUnknowns>> poses;
};

template <typename T>
void project(const T* lens, const T* sheet, const T* pose, const Point2& board_mm, const Point2& size_mm, T* px) {
  const double u = 2 * board_mm.x() / size_mm.x() - 1;
  const double v = 2 * board_mm.y() / size_mm.y() - 1;
  const T x[3] = {board_mm.x() * exp(0.5 * sheet[kSheetUnlike]), board_mm.y() * exp(-0.5 * sheet[kSheetUnlike]),
                  -(sheet[kSheetBowX] * (u * u) + sheet[kSheetBowY] * (v * v))};
  T c[3];
  ceres::AngleAxisRotatePoint(pose, x, c);
  for (int i = 0; i < 3; ++i) c[i] += pose[3 + i];
  const T a = c[0] / c[2];
  const T b = c[1] / c[2];
  const T r2 = a * a + b * b;
  const T radial = 1.0 + r2 * (lens[kFreeK1] + r2 * (lens[kFreeK2] + r2 * lens[kFreeK3]));
  const T& p1 = lens[kFreeP1];
  const T& p2 = lens[kFreeP2];
  const T focal = exp(lens[kFreeLogF]);
  px[0] = focal * (a * radial + 2.0 * p1 * a * b + p2 * (r2 + 2.0 * a * a)) + lens[kFreeX0];
  px[1] = focal * exp(lens[kFreeLogAspect]) * (b * radial + p1 * (r2 + 2.0 * b * b) + 2.0 * p2 * a * b) + lens[kFreeY0];
}

struct Miss {
  const Sighting& seen;
  Point2 size_mm;
  double sigma_px;

  template <typename T>
  bool operator()(const T* lens, const T* sheet, const T* pose, T* residual) const {
    T px[2];
    project(lens, sheet, pose, seen.board_mm, size_mm, px);
    residual[0] = (px[0] - seen.px.x()) / sigma_px;
    residual[1] = (px[1] - seen.px.y()) / sigma_px;
    return true;
  }
};

template <int kCount>
struct Belief {
  std::array<double, kCount> expected{};
  std::array<double, kCount> u{};

  template <typename T>
  bool operator()(const T* p, T* residual) const {
    for (int i = 0; i < kCount; ++i) residual[i] = (p[i] - expected[i]) / u[i];
    return true;
  }
};

using LensBelief = Belief<kLensUnknowns>;
using SheetBelief = Belief<kSheetUnknowns>;

LensBelief lens_belief(const cv::Size& size) {
  const double longer = std::max(size.width, size.height);
  LensBelief b;
  b.expected[kFreeLogF] = std::log(kUsualFocalDiagonals * std::hypot(size.width, size.height));
  b.expected[kFreeX0] = (size.width - 1) / 2.0;
  b.expected[kFreeY0] = (size.height - 1) / 2.0;
  b.u = {kLogFocalU,   kLogAspectU, kCentreShareU * longer, kCentreShareU * longer, kRadialU, kRadialU, kTangentialU,
         kTangentialU, kRadialU};
  return b;
}

SheetBelief sheet_belief(const SheetPrior& sheet) { return {{}, {sheet.u_unlike, sheet.u_bow_mm, sheet.u_bow_mm}}; }

Camera camera_of(const Unknowns& x) {
  const auto& l = x.lens;
  Camera camera;
  camera.fx = std::exp(l[kFreeLogF]);
  camera.fy = camera.fx * std::exp(l[kFreeLogAspect]);
  camera.cx = l[kFreeX0];
  camera.cy = l[kFreeY0];
  camera.distortion = {l[kFreeK1], l[kFreeK2], l[kFreeP1], l[kFreeP2], l[kFreeK3]};
  return camera;
}

/// The likelier of a plane's two poses through `camera`.
std::array<double, kPoseUnknowns> pose_through(const Camera& camera, const BoardSight& sight) {
  std::vector<cv::Point3d> board;
  std::vector<cv::Point2d> direction;
  for (const Sighting& s : sight) {
    const Point2 d = camera.direction(s.px);
    board.emplace_back(s.board_mm.x(), s.board_mm.y(), 0);
    direction.emplace_back(d.x(), d.y());
  }
  cv::Mat turn, move;
  cv::solvePnP(board, direction, cv::Mat::eye(3, 3, CV_64F), cv::noArray(), turn, move, false, cv::SOLVEPNP_IPPE);
  return {turn.at<double>(0), turn.at<double>(1), turn.at<double>(2),
          move.at<double>(0), move.at<double>(1), move.at<double>(2)};
}

/// Focal length from the planes' homographies (opencv's initCameraMatrix2D), or the usual one where they tell nothing.
double starting_focal(const std::vector<BoardSight>& sights, const cv::Size& size) {
  std::vector<std::vector<cv::Point3f>> board;
  std::vector<std::vector<cv::Point2f>> seen;
  for (const BoardSight& sight : sights) {
    board.emplace_back();
    seen.emplace_back();
    for (const Sighting& s : sight) {
      board.back().emplace_back(s.board_mm.x(), s.board_mm.y(), 0);
      seen.back().emplace_back(s.px.x(), s.px.y());
    }
  }
  const double diagonal = std::hypot(size.width, size.height);
  const double focal = cv::initCameraMatrix2D(board, seen, size, 1).at<double>(0, 0);
  return focal > 0.2 * diagonal && focal < 5 * diagonal ? focal : kUsualFocalDiagonals * diagonal;
}

/// The whole adjustment: what is seen, and what is found for it.
class Bundle {
 public:
  Bundle(const std::vector<BoardSight>& sights, const cv::Size& size, const SheetPrior& sheet)
      : sights_(sights), lens_belief_(lens_belief(size)), sheet_belief_(sheet_belief(sheet)), size_mm_(sheet.size_mm) {
    unknowns_.lens = lens_belief_.expected;
    unknowns_.lens[kFreeLogF] = std::log(starting_focal(sights, size));
    common_px_ = kFirstMisfitShare * std::max(size.width, size.height);
    take_poses();
  }

  /// Fits and re-scales until the scale stays. After the first round every pose is begun anew through the camera found:
  /// a mirror pose picked through the starting camera is left behind.
  void settle() {
    for (int round = 0; round < kRounds; ++round) {
      const double before = common_px_;
      solve();
      if (round == 0) take_poses();
      rescale();
      if (round > 1 && std::abs(common_px_ / before - 1) < 0.02) break;
    }
    solve();
  }

  /// The camera with one sight left out, all else (scale, start) as settled.
  [[nodiscard]] Unknowns without(std::size_t sight) const {
    Bundle fewer(*this);
    fewer.left_out_ = sight;
    fewer.solve();
    return fewer.unknowns_;
  }

  [[nodiscard]] Eigen::Matrix<double, kLensUnknowns, kLensUnknowns> covariance() {
    ceres::Problem problem;
    fill(problem);
    ceres::Covariance::Options options;
    options.algorithm_type = ceres::DENSE_SVD;
    ceres::Covariance covariance(options);
    Eigen::Matrix<double, kLensUnknowns, kLensUnknowns, Eigen::RowMajor> c;
    const double* lens = unknowns_.lens.data();
    // The beliefs keep every direction finite, so this cannot fail for want of rank.
    const std::vector<std::pair<const double*, const double*>> wanted{{lens, lens}};
    const bool done = covariance.Compute(wanted, &problem) && covariance.GetCovarianceBlock(lens, lens, c.data());
    assert(done);
    (void)done;
    return c;
  }

  [[nodiscard]] const Unknowns& unknowns() const { return unknowns_; }
  [[nodiscard]] double common_px() const { return common_px_; }
  [[nodiscard]] std::vector<Point2> residuals(std::size_t sight) const {
    std::vector<Point2> residuals;
    for (const Sighting& s : sights_[sight]) {
      Point2 px;
      project(unknowns_.lens.data(), unknowns_.sheet.data(), unknowns_.poses[sight].data(), s.board_mm, size_mm_,
              px.data());
      residuals.emplace_back(s.px - px);
    }
    return residuals;
  }
  [[nodiscard]] double sigma_px(const Sighting& s) const { return std::hypot(s.u_px, common_px_); }

 private:
  void take_poses() {
    const Camera camera = camera_of(unknowns_);
    unknowns_.poses.clear();
    for (const BoardSight& sight : sights_) unknowns_.poses.push_back(pose_through(camera, sight));
  }

  void fill(ceres::Problem& problem) {
    double* lens = unknowns_.lens.data();
    double* sheet = unknowns_.sheet.data();
    for (std::size_t i = 0; i < sights_.size(); ++i) {
      if (i == left_out_) continue;
      for (const Sighting& s : sights_[i]) {
        using Cost = ceres::AutoDiffCostFunction<Miss, 2, kLensUnknowns, kSheetUnknowns, kPoseUnknowns>;
        // Residuals of two coordinates: the cut is widened accordingly.
        problem.AddResidualBlock(new Cost(new Miss{s, size_mm_, sigma_px(s)}),
                                 new ceres::TukeyLoss(kTukey * std::sqrt(2.0)), lens, sheet, unknowns_.poses[i].data());
      }
    }
    problem.AddResidualBlock(
        new ceres::AutoDiffCostFunction<LensBelief, kLensUnknowns, kLensUnknowns>(new LensBelief(lens_belief_)),
        nullptr, lens);
    problem.AddResidualBlock(
        new ceres::AutoDiffCostFunction<SheetBelief, kSheetUnknowns, kSheetUnknowns>(new SheetBelief(sheet_belief_)),
        nullptr, sheet);
  }

  void solve() {
    ceres::Problem problem;
    fill(problem);
    ceres::Solver::Options options;
    options.linear_solver_type = ceres::DENSE_SCHUR;
    options.logging_type = ceres::SILENT;
    options.max_num_iterations = 100;
    options.function_tolerance = 1e-9;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
  }

  /// Chooses the common misfit so that the normalised residuals have unit robust spread.
  void rescale() {
    constexpr double kMedianLength = 1.17741;  // median of |r| / s of a two-dimensional normal residual: sqrt(2 ln 2)
    std::vector<double> lengths;
    double mean_variance = 0;
    for (std::size_t i = 0; i < sights_.size(); ++i) {
      const std::vector<Point2> misses = residuals(i);
      for (std::size_t k = 0; k < misses.size(); ++k) {
        lengths.push_back(misses[k].norm());
        mean_variance += sights_[i][k].u_px * sights_[i][k].u_px;
      }
    }
    const double n = static_cast<double>(lengths.size());
    mean_variance /= n;
    const double parameters =
        int{kLensUnknowns} + int{kSheetUnknowns} + kPoseUnknowns * static_cast<double>(sights_.size());
    const double freedom = 2 * n / std::max(2 * n - parameters, 4.0);
    const double spread = median(lengths) / kMedianLength;
    common_px_ = std::sqrt(std::max(spread * spread * freedom - mean_variance, kFloorPx * kFloorPx));
  }

  static constexpr std::size_t kNone = static_cast<std::size_t>(-1);

  const std::vector<BoardSight>& sights_;
  LensBelief lens_belief_;
  SheetBelief sheet_belief_;
  Point2 size_mm_;
  Unknowns unknowns_;
  double common_px_ = 0;
  std::size_t left_out_ = kNone;
};

using UnknownVector = Eigen::Matrix<double, kLensUnknowns, 1>;

UnknownVector vector_of(const Unknowns& x) { return Eigen::Map<const UnknownVector>(x.lens.data()); }

/// By how much the spread among fits that each lack one photograph exceeds what the covariance says: the root of the
/// mean ratio of variances over focal length and centre, never below 1.
double scatter_of(const Bundle& bundle, std::size_t sights, const Eigen::MatrixXd& covariance) {
  std::vector<UnknownVector> fits;
  UnknownVector mean = UnknownVector::Zero();
  for (std::size_t i = 0; i < sights; ++i) {
    fits.push_back(vector_of(bundle.without(i)));
    mean += fits.back() / static_cast<double>(sights);
  }
  double ratio = 0;
  for (const int k : {kFreeLogF, kFreeX0, kFreeY0}) {
    double sum = 0;
    for (const UnknownVector& f : fits) sum += (f[k] - mean[k]) * (f[k] - mean[k]);
    const double jackknife = sum * static_cast<double>(sights - 1) / static_cast<double>(sights);
    ratio += jackknife / covariance(k, k) / 3;
  }
  return std::sqrt(std::max(1.0, ratio));
}

/// d(LensParameter) / d(LensUnknown): the orders agree but for the two focal lengths.
LensCovariance to_parameters(const Eigen::Matrix<double, kLensUnknowns, kLensUnknowns>& c, const Camera& camera) {
  Eigen::Matrix<double, kLensParameters, kLensUnknowns> by = decltype(by)::Identity();
  by(kLensFx, kFreeLogF) = camera.fx;
  by(kLensFx, kFreeLogAspect) = 0;
  by(kLensFy, kFreeLogF) = camera.fy;
  by(kLensFy, kFreeLogAspect) = camera.fy;
  return by * c * by.transpose();
}

Pose rigid(const std::array<double, kPoseUnknowns>& p) {
  const Point3 turn(p[0], p[1], p[2]);
  Pose pose;
  if (turn.norm() > 0) pose.rotation = Eigen::AngleAxisd(turn.norm(), turn.normalized()).toRotationMatrix();
  pose.translation = Point3(p[3], p[4], p[5]);
  return pose;
}

}  // namespace

LensFit fit_lens(const std::vector<BoardSight>& sights, const cv::Size& stored, const SheetPrior& sheet) {
  Bundle bundle(sights, stored, sheet);
  bundle.settle();
  const Unknowns& x = bundle.unknowns();
  const auto covariance = bundle.covariance();

  LensFit fit;
  fit.camera = camera_of(x);
  fit.scatter = scatter_of(bundle, sights.size(), covariance);
  fit.covariance = to_parameters(fit.scatter * fit.scatter * covariance, fit.camera);
  fit.camera.u_focal_rel = std::sqrt(fit.covariance(kLensFx, kLensFx)) / fit.camera.fx;
  fit.camera.u_centre_px = std::sqrt((fit.covariance(kLensCx, kLensCx) + fit.covariance(kLensCy, kLensCy)) / 2);
  fit.camera.source = FocalSource::kCameraFile;
  fit.unlike = x.sheet[kSheetUnlike];
  fit.bow_x_mm = x.sheet[kSheetBowX];
  fit.bow_y_mm = x.sheet[kSheetBowY];
  fit.common_px = bundle.common_px();
  for (std::size_t i = 0; i < sights.size(); ++i) {
    fit.camera_from_board.push_back(rigid(x.poses[i]));
    fit.residuals_px.push_back(bundle.residuals(i));
    std::vector<double>& weights = fit.weights.emplace_back();
    for (std::size_t k = 0; k < sights[i].size(); ++k) {
      const double t = fit.residuals_px[i][k].norm() / bundle.sigma_px(sights[i][k]) / (kTukey * std::sqrt(2.0));
      weights.push_back(t < 1 ? (1 - t * t) * (1 - t * t) : 0);
    }
  }
  return fit;
}

}  // namespace glintline
