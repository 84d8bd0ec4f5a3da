#pragma once

#include <vector>

#include "card/layout.h"
#include "locate/camera_prior.h"
#include "model/card_pose.h"

namespace glintline {

/// A point of the print as seen. `board_mm` is nominal.
struct Sighting {
  Point2 board_mm = Point2::Zero();
  Point2 px = Point2::Zero();
  double u_px = 1;  ///< standard uncertainty per coordinate as far as the pixels tell
};

/// What is free when the card is fitted, in this order.
enum CardParameter {
  kTurnX,
  kTurnY,
  kTurnZ,  // rad, applied before the starting rotation
  kMoveX,
  kMoveY,        // direction x/z, y/z towards the board's middle
  kLogDistance,  // natural logarithm of the middle's z, mm
  kLogFocal,
  kCentreX,
  kCentreY,  // natural logarithm; px
  kRadial1,
  kRadial2,  // k1, k2
  kBowX,
  kBowY,  // mm, lift of the ends over the middle
  kPrintX,
  kPrintY,  // natural logarithm of true over nominal length
  kCardParameters
};
using CardVector = Eigen::Matrix<double, kCardParameters, 1>;
using CardMatrix = Eigen::Matrix<double, kCardParameters, kCardParameters>;

/// A solved card.
struct CardFit {
  CameraView view;
  double bow_x_mm = 0;
  double bow_y_mm = 0;
  PrintScale print;             ///< posterior: the picture tells X from Y, never the common size
  CardMatrix covariance;        ///< posterior, of CardParameter
  std::vector<double> weights;  ///< robust weight of each sighting, 0 = thrown out, 1 = fully trusted
  double rms_px = 0;            ///< of the sightings kept, per coordinate
  double common_px = 0;         ///< misfit per coordinate beyond what the pixels tell
  double structure = 1;         ///< factor by which neighbouring sightings' common misfit inflates the variance
  double chi2 = 0;              ///< of sightings and priors, robust, on this fit's own scale of misfit
  int kept = 0;
};

/// Bayesian least squares over pose, focal length, principal point, k1, k2, bow and print scale with the priors of
/// `prior`, `print` and a bow of kBowU:
///
///   X = (x e^px, y e^py, -bx u^2 - by v^2),  u, v = -1..1 across the board;   px = camera(R X + t)
///
/// with the pose held by the board's middle in direction and logarithmic distance: a longer focal length and a larger
/// distance then cancel exactly, however far they go, as they do in the picture;
/// minimising sum rho(|px - seen|^2 / s^2) + priors, rho Tukey's biweight, by Levenberg-Marquardt
/// (ceres::TinySolver). The sightings' scale s is re-estimated from their own residuals (residuals of unit variance,
/// without which the covariance is void), and inflated where neighbours miss in common, so that a warped print or lens
/// is not averaged away.
/// Without enough perspective the focal length stays at its prior, correlated with the distance.
class CardFitter {
 public:
  CardFitter(const CardLayout& layout, const CameraPrior& prior, const PrintScale& print);

  /// Assumes at least 6 sightings not in line.
  [[nodiscard]] CardFit fit(const std::vector<Sighting>& seen, const Pose& start) const;

  /// The same, begun at a full earlier solution.
  [[nodiscard]] CardFit fit(const std::vector<Sighting>& seen, const CardFit& start) const;

  /// Chi squared of `fit` if the sightings missed as they do in `other`: only on one scale do two fits compare.
  [[nodiscard]] double chi2_on_scale_of(const std::vector<Sighting>& seen, const CardFit& fit,
                                        const CardFit& other) const;

  /// Chi squared, priors included, of the best fit to sightings that are all trusted and miss by `common_px` beside
  /// their own uncertainty.
  [[nodiscard]] double misfit(const std::vector<Sighting>& seen, const Pose& start, double common_px) const;

  /// Both mirror poses of a plane (Collins and Bartoli, Infinitesimal Plane-based Pose Estimation, 2014), better one
  /// first, at the prior's camera.
  [[nodiscard]] std::vector<Pose> mirror_poses(const std::vector<Sighting>& seen) const;

  /// Pixel of a nominal board point on the bowed print.
  [[nodiscard]] Point2 pixel(const CardFit& fit, const Point2& board_mm) const;

  /// One view for each independent direction of the posterior, moved by one standard uncertainty. The columns of the
  /// covariance's Cholesky factor in the order print, camera, bow, pose: each influence takes along all that is
  /// correlated with it, e.g. the focal length the distance.
  [[nodiscard]] std::vector<ViewVariation> variations(const CardFit& fit) const;

 private:
  CardLayout layout_;
  CameraPrior prior_;
  PrintScale print_;
  double u_bow_x_mm_;
  double u_bow_y_mm_;
};

}  // namespace glintline
