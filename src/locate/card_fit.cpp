#include "locate/card_fit.h"

#include <ceres/rotation.h>
#include <ceres/tiny_solver.h>
#include <ceres/tiny_solver_autodiff_function.h>

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/calib3d.hpp>

namespace glintline {

namespace {

// Office paper that was rolled or lay in the damp: some tenths of a millimetre over a hand's width (by judgement).
constexpr double kBowUPerWidth = 0.3 / 105;
constexpr double kTukey = 4.685;   // 95 % efficient at normal errors
constexpr double kFloorPx = 0.01;  // print and pixels are never better than this
constexpr int kRounds = 8;
// Change of chi squared at which an iteration ends: a tenth of a standard uncertainty while weights still change, a
// thousandth at the last.
constexpr double kRoughTolerance = 1e-2;
constexpr double kFineTolerance = 1e-6;

/// Everything the residuals need that is not free.
struct Model {
  Eigen::Matrix3d rotation;
  Camera camera;  // centre of the linearisation: focal, centre and distortion are offsets from the prior's
  double half_width_mm;
  double half_height_mm;
  Point3 middle_mm;  // the board's middle at the expected print

  template <typename T>
  void project(const T* p, const T* turn, const Point2& board_mm, T* px) const {
    const double u = board_mm.x() / half_width_mm - 1;
    const double v = board_mm.y() / half_height_mm - 1;
    const T x[3] = {board_mm.x() * exp(p[kPrintX]), board_mm.y() * exp(p[kPrintY]),
                    -(p[kBowX] * (u * u) + p[kBowY] * (v * v))};
    const T distance = exp(p[kLogDistance]);
    const T middle[3] = {p[kMoveX] * distance, p[kMoveY] * distance, distance};
    T c[3];
    for (int i = 0; i < 3; ++i) {
      c[i] = turn[3 * i] * (x[0] - middle_mm.x()) + turn[3 * i + 1] * (x[1] - middle_mm.y()) + turn[3 * i + 2] * x[2] +
             middle[i];
    }
    const T a = c[0] / c[2];
    const T b = c[1] / c[2];
    const T r2 = a * a + b * b;
    const auto& d = camera.distortion;
    const T radial = 1.0 + r2 * (p[kRadial1] + r2 * (p[kRadial2] + r2 * d[4]));
    const T focal = exp(p[kLogFocal]);
    px[0] = camera.fx * focal * (a * radial + 2 * d[2] * a * b + d[3] * (r2 + 2.0 * a * a)) + p[kCentreX];
    px[1] = camera.fy * focal * (b * radial + d[2] * (r2 + 2.0 * b * b) + 2 * d[3] * a * b) + p[kCentreY];
  }

  /// Row-major rotation: the starting one after the small free turn.
  template <typename T>
  void turned(const T* p, T* turn) const {
    T small[9];
    ceres::AngleAxisToRotationMatrix(p + kTurnX, ceres::RowMajorAdapter3x3(small));
    for (int i = 0; i < 3; ++i) {
      for (int j = 0; j < 3; ++j) {
        turn[3 * i + j] =
            small[3 * i] * rotation(0, j) + small[3 * i + 1] * rotation(1, j) + small[3 * i + 2] * rotation(2, j);
      }
    }
  }
};

constexpr int kPriors = kCardParameters - kLogFocal;

/// Distances of the parameters from kLogFocal on from what is expected, in standard uncertainties. The print's two
/// lengths are held by their mean and half their difference (uncertainties in the places of kPrintX and kPrintY).
template <typename T>
void prior_residuals(const T* p, const CardVector& expected, const CardVector& u, T* residuals) {
  for (int k = kLogFocal; k < kPrintX; ++k) residuals[k - kLogFocal] = (p[k] - expected[k]) / u[k];
  const T x = p[kPrintX] - expected[kPrintX];
  const T y = p[kPrintY] - expected[kPrintY];
  residuals[kPrintX - kLogFocal] = (x + y) / (2 * u[kPrintX]);
  residuals[kPrintY - kLogFocal] = (x - y) / (2 * u[kPrintY]);
}

struct Residuals {
  const Model& model;
  const std::vector<Sighting>& seen;
  const std::vector<double>& scale;  // root weight over standard uncertainty, 1/px
  const CardVector& expected;
  const CardVector& prior_u;

  [[nodiscard]] int NumResiduals() const { return 2 * static_cast<int>(seen.size()) + kPriors; }

  template <typename T>
  bool operator()(const T* p, T* residuals) const {
    T turn[9];
    model.turned(p, turn);
    for (std::size_t i = 0; i < seen.size(); ++i) {
      T px[2];
      model.project(p, turn, seen[i].board_mm, px);
      residuals[2 * i] = (px[0] - seen[i].px.x()) * scale[i];
      residuals[2 * i + 1] = (px[1] - seen[i].px.y()) * scale[i];
    }
    prior_residuals(p, expected, prior_u, residuals + 2 * seen.size());
    return true;
  }
};

using Function = ceres::TinySolverAutoDiffFunction<Residuals, Eigen::Dynamic, kCardParameters>;

double median(std::vector<double> values) {
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

/// State of one solution while it is re-weighted.
struct State {
  CardVector p;
  std::vector<Point2> residuals;
  std::vector<double> weights;
  double common_px = 0.05;  // misfit beyond what the pixels tell, shared scale of all sightings
  double structure = 1;
};

double sigma_px(const Sighting& s, double common_px) { return std::hypot(s.u_px, common_px); }

std::vector<Point2> residuals_of(const Model& model, const std::vector<Sighting>& seen, const CardVector& p) {
  double turn[9];
  model.turned(p.data(), turn);
  std::vector<Point2> residuals;
  residuals.reserve(seen.size());
  for (const Sighting& s : seen) {
    Point2 px;
    model.project(p.data(), turn, s.board_mm, px.data());
    residuals.push_back(s.px - px);
  }
  return residuals;
}

/// Chooses the common misfit so that the normalised residuals have unit robust spread, then the weights.
/// True where that changed nothing worth another round.
bool reweigh(const std::vector<Sighting>& seen, State& state) {
  const double common_before = state.common_px;
  const std::vector<double> weights_before = state.weights;
  // Median of |r| / s of a two-dimensional normal residual: sqrt(2 ln 2).
  constexpr double kMedianLength = 1.17741;
  for (int i = 0; i < 4; ++i) {
    std::vector<double> lengths;
    double mean_variance = 0;
    for (std::size_t k = 0; k < seen.size(); ++k) {
      lengths.push_back(state.residuals[k].norm() / sigma_px(seen[k], state.common_px));
      mean_variance += seen[k].u_px * seen[k].u_px / static_cast<double>(seen.size());
    }
    const double n = static_cast<double>(seen.size());
    const double freedom = std::sqrt(2 * n / std::max(2 * n - static_cast<int>(kCardParameters), 4.0));
    const double spread = median(lengths) / kMedianLength * freedom;
    const double total = spread * spread * (state.common_px * state.common_px + mean_variance);
    state.common_px = std::sqrt(std::max(total - mean_variance, kFloorPx * kFloorPx));
  }
  double change = 0;
  for (std::size_t k = 0; k < seen.size(); ++k) {
    const double z = state.residuals[k].norm() / sigma_px(seen[k], state.common_px) / kTukey;
    // Residual lengths of two coordinates: the cut is widened accordingly.
    const double t = z / std::sqrt(2.0);
    state.weights[k] = t < 1 ? (1 - t * t) * (1 - t * t) : 0;
    change = std::max(change, std::abs(state.weights[k] - weights_before[k]));
  }
  constexpr double kSettled = 0.03;
  return change < kSettled && std::abs(state.common_px / common_before - 1) < kSettled;
}

/// Variance inflation by the residuals' own correlation between neighbours: 1 + sum over lags of count * correlation,
/// as for the mean of a correlated series, in rings of one to three squares and cut where it turns negative.
double structure_of(const std::vector<Sighting>& seen, const State& state, double square_mm) {
  constexpr int kRings = 3;
  std::map<std::pair<int, int>, std::size_t> at;
  double power = 0;
  for (std::size_t k = 0; k < seen.size(); ++k) {
    if (state.weights[k] <= 0) continue;
    at[{std::lround(seen[k].board_mm.x() / square_mm), std::lround(seen[k].board_mm.y() / square_mm)}] = k;
    power += state.residuals[k].squaredNorm();
  }
  double factor = 1;
  for (int ring = 1; ring <= kRings && power > 0; ++ring) {
    double product = 0;
    for (const auto& [place, k] : at) {
      for (int j = -ring; j <= ring; ++j) {
        for (int i = -ring; i <= ring; ++i) {
          if (std::max(std::abs(i), std::abs(j)) != ring) continue;
          const auto other = at.find({place.first + i, place.second + j});
          if (other != at.end()) product += state.residuals[k].dot(state.residuals[other->second]);
        }
      }
    }
    if (product <= 0) break;
    factor += product / power;
  }
  return factor;
}

CardVector parameters_at(const Model& model, const Pose& pose, const Camera& camera) {
  CardVector p = CardVector::Zero();
  const Point3 middle = pose * model.middle_mm;
  p[kMoveX] = middle.x() / middle.z();
  p[kMoveY] = middle.y() / middle.z();
  p[kLogDistance] = std::log(middle.z());
  p[kLogFocal] = std::log(camera.fx / model.camera.fx);
  p[kCentreX] = camera.cx;
  p[kCentreY] = camera.cy;
  p[kRadial1] = camera.distortion[0];
  p[kRadial2] = camera.distortion[1];
  return p;
}

CameraView view_of(const Model& model, const CardVector& p) {
  CameraView view;
  view.camera = model.camera;
  view.camera.fx *= std::exp(p[kLogFocal]);
  view.camera.fy *= std::exp(p[kLogFocal]);
  view.camera.cx = p[kCentreX];
  view.camera.cy = p[kCentreY];
  view.camera.distortion[0] = p[kRadial1];
  view.camera.distortion[1] = p[kRadial2];
  double turn[9];
  model.turned(p.data(), turn);
  view.camera_from_board.rotation = Eigen::Map<Eigen::Matrix<double, 3, 3, Eigen::RowMajor>>(turn);
  view.camera_from_board.translation =
      std::exp(p[kLogDistance]) * Point3(p[kMoveX], p[kMoveY], 1) - view.camera_from_board.rotation * model.middle_mm;
  return view;
}

Source source_of(int parameter) {
  switch (parameter) {
    case kPrintX:
    case kPrintY:
      return Source::kPrint;
    case kLogFocal:
    case kCentreX:
    case kCentreY:
    case kRadial1:
    case kRadial2:
      return Source::kFocal;
    case kBowX:
    case kBowY:
      return Source::kFlatness;
    default:
      return Source::kPose;
  }
}

}  // namespace

CardFitter::CardFitter(const CardLayout& layout, const CameraPrior& prior, const PrintScale& print)
    : layout_(layout),
      prior_(prior),
      print_(print),
      u_bow_x_mm_(kBowUPerWidth * layout.width_mm()),
      u_bow_y_mm_(kBowUPerWidth * layout.height_mm() * layout.height_mm() / layout.width_mm()) {}

namespace {

Model model_of(const CardLayout& layout, const PrintScale& print, const Camera& camera,
               const Eigen::Matrix3d& rotation) {
  const double half_width = layout.width_mm() / 2;
  const double half_height = layout.height_mm() / 2;
  return {rotation, camera, half_width, half_height, Point3(half_width * print.x, half_height * print.y, 0)};
}

CardVector solution_of(const Model& model, const CardFit& fit) {
  CardVector p = parameters_at(model, fit.view.camera_from_board, fit.view.camera);
  p[kBowX] = fit.bow_x_mm;
  p[kBowY] = fit.bow_y_mm;
  p[kPrintX] = std::log(fit.print.x);
  p[kPrintY] = std::log(fit.print.y);
  return p;
}

struct Priors {
  CardVector expected = CardVector::Zero();
  CardVector u = CardVector::Ones();
};

Priors priors_of(const CameraPrior& prior, const PrintScale& print, double u_bow_x_mm, double u_bow_y_mm) {
  Priors result;
  result.expected[kCentreX] = prior.camera.cx;
  result.expected[kCentreY] = prior.camera.cy;
  result.expected[kRadial1] = prior.camera.distortion[0];
  result.expected[kRadial2] = prior.camera.distortion[1];
  result.expected[kPrintX] = std::log(print.x);
  result.expected[kPrintY] = std::log(print.y);
  result.u[kLogFocal] = prior.u_log_focal;
  result.u[kCentreX] = result.u[kCentreY] = prior.u_centre_px;
  result.u[kRadial1] = prior.u_k1;
  result.u[kRadial2] = prior.u_k2;
  result.u[kBowX] = u_bow_x_mm;
  result.u[kBowY] = u_bow_y_mm;
  // Two bars are read independently. A print nobody measured was scaled to the page in both directions alike, and
  // stretched unlike by about half as much (0.5 % between X and Y seen in public threads).
  result.u[kPrintX] = print.measured ? print.u_rel / std::sqrt(2.0) : print.u_rel;
  result.u[kPrintY] = print.measured ? print.u_rel / std::sqrt(2.0) : print.u_rel / 2;
  return result;
}

std::vector<double> scales(const std::vector<Sighting>& seen, const State& state) {
  std::vector<double> scale;
  for (std::size_t k = 0; k < seen.size(); ++k) {
    scale.push_back(std::sqrt(state.weights[k] / state.structure) / sigma_px(seen[k], state.common_px));
  }
  return scale;
}

struct Reached {
  double cost = 0;        // half the sum of squares
  bool converged = true;  // false: stopped by the limit of iterations
};

Reached solve(const Model& model, const std::vector<Sighting>& seen, const Priors& priors, double tolerance,
              State& state) {
  const std::vector<double> scale = scales(seen, state);
  const Residuals residuals{model, seen, scale, priors.expected, priors.u};
  const Function function(residuals);
  ceres::TinySolver<Function> solver;
  solver.options.max_num_iterations = 30;
  solver.options.function_tolerance = tolerance;
  // Nearly undamped: focal length against distance is so weak a direction that usual damping halts on the way.
  solver.options.initial_trust_region_radius = 1e10;
  const auto& summary = solver.Solve(function, &state.p);
  state.residuals = residuals_of(model, seen, state.p);
  return {summary.final_cost, summary.status != ceres::TinySolver<Function>::HIT_MAX_ITERATIONS};
}

CardMatrix covariance_of(const Model& model, const std::vector<Sighting>& seen, const Priors& priors,
                         const State& state) {
  const std::vector<double> scale = scales(seen, state);
  const Residuals residuals{model, seen, scale, priors.expected, priors.u};
  const Function function(residuals);
  Eigen::VectorXd r(residuals.NumResiduals());
  Eigen::MatrixXd jacobian(residuals.NumResiduals(), static_cast<int>(kCardParameters));
  function(state.p.data(), r.data(), jacobian.data());
  // Scaled to a unit diagonal: the parameters' units differ by orders of magnitude.
  const CardMatrix information = jacobian.transpose() * jacobian;
  const CardVector size = information.diagonal().cwiseSqrt().cwiseInverse();
  const CardMatrix scaled = size.asDiagonal() * information * size.asDiagonal();
  return size.asDiagonal() * scaled.ldlt().solve(CardMatrix::Identity()) * size.asDiagonal();
}

/// Sum of squares of what was minimised: Tukey's bounded loss for the sightings, and the priors.
double chi2_of(const std::vector<Sighting>& seen, const Priors& priors, const State& state) {
  const double cut2 = 2 * kTukey * kTukey;
  double sum = 0;
  for (std::size_t k = 0; k < seen.size(); ++k) {
    const double sigma = sigma_px(seen[k], state.common_px);
    const double z2 = state.residuals[k].squaredNorm() / (sigma * sigma);
    const double inside = 1 - std::min(1.0, z2 / cut2);
    sum += cut2 / 3 * (1 - inside * inside * inside) / state.structure;
  }
  Eigen::Matrix<double, kPriors, 1> prior;
  prior_residuals(state.p.data(), priors.expected, priors.u, prior.data());
  return sum + prior.squaredNorm();
}

/// Moves the turn found into the model's rotation: derivatives are then taken about the solution itself, and a start
/// that is far off is left behind.
void rebase(Model& model, CardVector& p) {
  model.rotation = view_of(model, p).camera_from_board.rotation;
  p.segment<3>(kTurnX).setZero();
}

CardFit solved(Model model, const std::vector<Sighting>& seen, const Priors& priors, const PrintScale& print,
               double square_mm, State state) {
  state.weights.assign(seen.size(), 1);
  for (int round = 0; round < kRounds; ++round) {
    const bool converged = solve(model, seen, priors, kRoughTolerance, state).converged;
    rebase(model, state.p);
    const bool settled = reweigh(seen, state) && converged;
    state.structure = structure_of(seen, state, square_mm);
    if (settled) break;
  }
  solve(model, seen, priors, kFineTolerance, state);
  rebase(model, state.p);

  CardFit fit;
  fit.view = view_of(model, state.p);
  fit.bow_x_mm = state.p[kBowX];
  fit.bow_y_mm = state.p[kBowY];
  fit.covariance = covariance_of(model, seen, priors, state);
  fit.print = print;
  fit.print.x = std::exp(state.p[kPrintX]);
  fit.print.y = std::exp(state.p[kPrintY]);
  fit.print.u_rel = std::sqrt(std::max(fit.covariance(kPrintX, kPrintX), fit.covariance(kPrintY, kPrintY)));
  fit.weights = state.weights;
  fit.structure = state.structure;
  fit.common_px = state.common_px;
  fit.chi2 = chi2_of(seen, priors, state);
  double squares = 0;
  for (std::size_t k = 0; k < seen.size(); ++k) {
    if (state.weights[k] <= 0) continue;
    squares += state.residuals[k].squaredNorm();
    ++fit.kept;
  }
  fit.rms_px = std::sqrt(squares / std::max(1, 2 * fit.kept));
  return fit;
}

}  // namespace

CardFit CardFitter::fit(const std::vector<Sighting>& seen, const Pose& start) const {
  const Model model = model_of(layout_, print_, prior_.camera, start.rotation);
  const Priors priors = priors_of(prior_, print_, u_bow_x_mm_, u_bow_y_mm_);
  State state;
  state.p = parameters_at(model, start, prior_.camera);
  state.p[kPrintX] = priors.expected[kPrintX];
  state.p[kPrintY] = priors.expected[kPrintY];
  return solved(model, seen, priors, print_, layout_.square_mm(), state);
}

CardFit CardFitter::fit(const std::vector<Sighting>& seen, const CardFit& start) const {
  const Model model = model_of(layout_, print_, prior_.camera, start.view.camera_from_board.rotation);
  const Priors priors = priors_of(prior_, print_, u_bow_x_mm_, u_bow_y_mm_);
  State state;
  state.p = solution_of(model, start);
  return solved(model, seen, priors, print_, layout_.square_mm(), state);
}

double CardFitter::chi2_on_scale_of(const std::vector<Sighting>& seen, const CardFit& fit, const CardFit& other) const {
  const Model model = model_of(layout_, print_, prior_.camera, fit.view.camera_from_board.rotation);
  State state;
  state.p = solution_of(model, fit);
  state.common_px = other.common_px;
  state.structure = other.structure;
  state.residuals = residuals_of(model, seen, state.p);
  return chi2_of(seen, priors_of(prior_, print_, u_bow_x_mm_, u_bow_y_mm_), state);
}

double CardFitter::misfit(const std::vector<Sighting>& seen, const Pose& start, double common_px) const {
  const Model model = model_of(layout_, print_, prior_.camera, start.rotation);
  const Priors priors = priors_of(prior_, print_, u_bow_x_mm_, u_bow_y_mm_);
  State state;
  state.p = parameters_at(model, start, prior_.camera);
  state.p[kPrintX] = priors.expected[kPrintX];
  state.p[kPrintY] = priors.expected[kPrintY];
  state.weights.assign(seen.size(), 1);
  state.common_px = common_px;
  return 2 * solve(model, seen, priors, kRoughTolerance, state).cost;
}

std::vector<Pose> CardFitter::mirror_poses(const std::vector<Sighting>& seen) const {
  std::vector<cv::Point3d> board;
  std::vector<cv::Point2d> direction;
  for (const Sighting& s : seen) {
    board.emplace_back(s.board_mm.x() * print_.x, s.board_mm.y() * print_.y, 0);
    const Point2 d = prior_.camera.direction(s.px);
    direction.emplace_back(d.x(), d.y());
  }
  std::vector<cv::Mat> turns;
  std::vector<cv::Mat> moves;
  cv::solvePnPGeneric(board, direction, cv::Mat::eye(3, 3, CV_64F), cv::noArray(), turns, moves, false,
                      cv::SOLVEPNP_IPPE);
  std::vector<Pose> poses;
  for (std::size_t i = 0; i < turns.size(); ++i) {
    const Point3 turn(turns[i].at<double>(0), turns[i].at<double>(1), turns[i].at<double>(2));
    Pose pose;
    if (turn.norm() > 0) pose.rotation = Eigen::AngleAxisd(turn.norm(), turn.normalized()).toRotationMatrix();
    pose.translation = Point3(moves[i].at<double>(0), moves[i].at<double>(1), moves[i].at<double>(2));
    poses.push_back(pose);
  }
  return poses;
}

Point2 CardFitter::pixel(const CardFit& fit, const Point2& board_mm) const {
  const double u = 2 * board_mm.x() / layout_.width_mm() - 1;
  const double v = 2 * board_mm.y() / layout_.height_mm() - 1;
  const double lift = fit.bow_x_mm * u * u + fit.bow_y_mm * v * v;
  return fit.view.pixel(Point3(board_mm.x() * fit.print.x, board_mm.y() * fit.print.y, -lift));
}

std::vector<ViewVariation> CardFitter::variations(const CardFit& fit) const {
  constexpr std::array<int, kCardParameters> kOrder{kPrintX,  kPrintY,  kLogFocal, kCentreX, kCentreY,
                                                    kRadial1, kRadial2, kBowX,     kBowY,    kLogDistance,
                                                    kTurnX,   kTurnY,   kTurnZ,    kMoveX,   kMoveY};
  CardMatrix ordered;
  for (int i = 0; i < kCardParameters; ++i) {
    for (int j = 0; j < kCardParameters; ++j) ordered(i, j) = fit.covariance(kOrder[i], kOrder[j]);
  }
  const CardMatrix factor = ordered.llt().matrixL();
  const Model model = model_of(layout_, print_, prior_.camera, fit.view.camera_from_board.rotation);
  const CardVector solution = parameters_at(model, fit.view.camera_from_board, fit.view.camera);
  std::vector<ViewVariation> result;
  for (int j = 0; j < kCardParameters; ++j) {
    CardVector moved = solution;
    for (int i = 0; i < kCardParameters; ++i) moved[kOrder[i]] += factor(i, j);
    result.push_back({source_of(kOrder[j]), view_of(model, moved)});
  }
  return result;
}

}  // namespace glintline
