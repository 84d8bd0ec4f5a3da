#include "locate/locate_card.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "base/text.h"
#include "locate/edge_blur.h"
#include "locate/find_saddles.h"
#include "locate/tag_corners.h"

namespace glintline {

namespace {

constexpr double kLeastSpreadSquares = 4;    // of the saddles, along X and along Y: less leaves the lens unknown
constexpr double kUselessRmsSquares = 0.02;  // the points miss the card by a tenth of a millimetre (wide)
constexpr double kPoorRmsSquares = 0.006;
constexpr double kNotableBowSquares = 0.02;
constexpr int kEdgesLookedAt = 20;

std::vector<Sighting> saddle_sightings(const CardSaddles& card) {
  std::vector<Sighting> seen;
  for (const SeenSaddle& s : card.saddles) seen.push_back({s.printed.at_mm, s.px, s.u_px});
  return seen;
}

double tilt_of(const CameraView& view) {
  return std::acos(std::clamp(view.camera_from_board.rotation(2, 2), -1.0, 1.0));
}

std::optional<Error> too_little(const CardSaddles& card, const std::vector<double>& weights, const Photo& photo) {
  int left = kCardColumns, right = 0, top = kCardRows, bottom = 0, kept = 0;
  for (std::size_t i = 0; i < card.saddles.size(); ++i) {
    if (weights[i] <= 0) continue;
    ++kept;
    left = std::min(left, card.saddles[i].printed.column);
    right = std::max(right, card.saddles[i].printed.column);
    top = std::min(top, card.saddles[i].printed.row);
    bottom = std::max(bottom, card.saddles[i].printed.row);
  }
  if (kept < kNeededSaddles) {
    return Error{Fault::kCardHidden,
                 counted(kept, "crossing") + " of the card's squares clear, " + std::to_string(kNeededSaddles) +
                     " needed: move back, uncover or clean the card",
                 photo.path};
  }
  if (right - left < kLeastSpreadSquares || bottom - top < kLeastSpreadSquares) {
    return Error{Fault::kCardHidden,
                 "only a strip of the card seen, " + std::to_string(right - left + 2) + " by " +
                     std::to_string(bottom - top + 2) + " squares: move back or uncover the card",
                 photo.path};
  }
  return std::nullopt;
}

double square_px(const CardFit& fit, const CardLayout& layout) {
  const Point3 middle(layout.width_mm() / 2, layout.height_mm() / 2, 0);
  return layout.square_mm() / fit.view.mm_per_px(fit.view.pixel(middle), 0);
}

std::optional<Error> unusable(const CardFit& fit, const CardLayout& layout, const Photo& photo) {
  const double misfit = fit.rms_px / square_px(fit, layout);
  if (!(misfit <= kUselessRmsSquares)) {
    return Error{Fault::kNotMeasurable,
                 "the card's squares stand " + fixed(misfit * layout.square_mm(), 2) +
                     " mm off their places: lay it flat, or print it again",
                 photo.path};
  }
  const double tilt = tilt_of(fit.view);
  if (!(tilt <= kLargestTiltRad)) {
    return Error{Fault::kTilted,
                 "the camera looks on at " + fixed(tilt * 180 / M_PI, 0) +
                     " degrees from straight above, 20 at the most: hold it level over the card",
                 photo.path};
  }
  return std::nullopt;
}

/// The edges from each saddle to its right and lower neighbour, thinned to kEdgesLookedAt.
std::vector<PrintedEdge> printed_edges(const CardSaddles& card, const std::vector<double>& weights, double square) {
  std::map<std::pair<int, int>, const SeenSaddle*> at;
  for (std::size_t i = 0; i < card.saddles.size(); ++i) {
    if (weights[i] > 0) at[{card.saddles[i].printed.column, card.saddles[i].printed.row}] = &card.saddles[i];
  }
  std::vector<PrintedEdge> all;
  for (const auto& [place, saddle] : at) {
    for (const bool down : {false, true}) {
      const auto next = at.find({place.first + (down ? 0 : 1), place.second + (down ? 1 : 0)});
      if (next == at.end()) continue;
      const Point2 along = next->second->px - saddle->px;
      // The board's other axis: down for an edge along X, right for one along Y.
      Point2 across = turned_quarter(along).normalized() * (down ? -1 : 1);
      // Below an edge along X lies what is right of one along Y: dark where the top left is.
      const bool white_across = !saddle->printed.dark_top_left;
      all.push_back({saddle->px, next->second->px, white_across ? across : Point2(-across), square});
    }
  }
  std::vector<PrintedEdge> some;
  const std::size_t stride = std::max<std::size_t>(1, all.size() / kEdgesLookedAt);
  for (std::size_t i = 0; i < all.size(); i += stride) some.push_back(all[i]);
  return some;
}

double median_blur(const CardSaddles& card) {
  std::vector<double> blurs;
  for (const SeenSaddle& s : card.saddles) blurs.push_back(s.blur_px);
  const auto middle = blurs.begin() + static_cast<std::ptrdiff_t>(blurs.size() / 2);
  std::nth_element(blurs.begin(), middle, blurs.end());
  return *middle;
}

/// Both mirror poses refined on the saddles; the better one, and the other where it is another minimum.
struct Solutions {
  CardFit best;
  std::optional<CardFit> mirror;
  double excess = 0;  ///< chi squared of the mirror pose over that of the best, on one scale
};

bool same_minimum(const CardFit& a, const CardFit& b) {
  constexpr double kSameTurnRad = 0.002;
  const Eigen::AngleAxisd turn(a.view.camera_from_board.rotation.transpose() * b.view.camera_from_board.rotation);
  return std::abs(turn.angle()) < kSameTurnRad;
}

/// Some of the saddles already tell whether the mirror pose is worth a full fit.
bool mirror_excluded(const CardFitter& fitter, const CardSaddles& card, const std::vector<Sighting>& seen,
                     const CardFit& best) {
  constexpr std::size_t kOneIn = 4;
  constexpr double kHopeless = 60;  // of chi squared: odds of 1 to 1e13
  std::vector<Sighting> some;
  for (std::size_t i = 0; i < seen.size(); i += kOneIn) {
    if (best.weights[i] > 0) some.push_back(seen[i]);
  }
  if (some.size() < kNeededSaddles / 2) return false;
  return fitter.misfit(some, *card.mirror, best.common_px) -
             fitter.misfit(some, best.view.camera_from_board, best.common_px) >
         kHopeless;
}

Solutions solutions_of(const CardFitter& fitter, const CardSaddles& card, const std::vector<Sighting>& seen) {
  Solutions found;
  found.best = fitter.fit(seen, card.coarse);
  if (!card.mirror || mirror_excluded(fitter, card, seen, found.best)) return found;
  CardFit other = fitter.fit(seen, *card.mirror);
  if (same_minimum(found.best, other)) return found;
  if (other.common_px < found.best.common_px) std::swap(other, found.best);
  found.excess = fitter.chi2_on_scale_of(seen, other, found.best) - found.best.chi2;
  if (found.excess < 0) {
    std::swap(other, found.best);
    found.excess = -found.excess;
  }
  found.mirror = std::move(other);
  return found;
}

/// Probability of the mirror pose, equal before the picture: 1 / (1 + exp(d chi2 / 2)).
double mirror_probability(const Solutions& found) {
  if (!found.mirror) return 0;
  return 1 / (1 + std::exp(std::min(700.0, found.excess / 2)));
}

/// The view moved towards the mirror pose by the root of its probability: the spread of a two-point distribution
/// about its likelier point.
ViewVariation mirror_variation(const CameraView& best, const CameraView& mirror, double probability) {
  const double share = std::sqrt(probability);
  ViewVariation variation{Source::kPose, best};
  const Eigen::AngleAxisd turn(best.camera_from_board.rotation.transpose() * mirror.camera_from_board.rotation);
  variation.view.camera_from_board.rotation =
      best.camera_from_board.rotation * Eigen::AngleAxisd(share * turn.angle(), turn.axis()).toRotationMatrix();
  variation.view.camera_from_board.translation +=
      share * (mirror.camera_from_board.translation - best.camera_from_board.translation);
  variation.view.camera.fx *= std::pow(mirror.camera.fx / best.camera.fx, share);
  variation.view.camera.fy *= std::pow(mirror.camera.fy / best.camera.fy, share);
  variation.view.camera.cx += share * (mirror.camera.cx - best.camera.cx);
  variation.view.camera.cy += share * (mirror.camera.cy - best.camera.cy);
  return variation;
}

void settle_camera(CameraView& view, const CardFit& fit, const CameraPrior& prior) {
  view.camera.u_focal_rel = std::sqrt(fit.covariance(kLogFocal, kLogFocal));
  view.camera.u_centre_px = std::sqrt((fit.covariance(kCentreX, kCentreX) + fit.covariance(kCentreY, kCentreY)) / 2);
  // The picture decides where it is at least twice as sure as what was believed before.
  if (view.camera.u_focal_rel < prior.u_log_focal / 2) view.camera.source = FocalSource::kPicture;
}

void warn_of_stretch(CardPose& pose, const CardFit& fit, const PrintScale& told) {
  constexpr double kNotable = 0.002;
  const double unlike = std::log(fit.print.x / fit.print.y) - std::log(told.x / told.y);
  const double variance =
      fit.covariance(kPrintX, kPrintX) + fit.covariance(kPrintY, kPrintY) - 2 * fit.covariance(kPrintX, kPrintY);
  if (std::abs(unlike) < kNotable || std::abs(unlike) < 3 * std::sqrt(variance)) return;
  const bool wide = unlike > 0;
  pose.warnings.push_back(
      std::string("the print is ") + fixed(100 * std::abs(unlike), 1) + " % longer along its " +
      (wide ? "width than along its height" : "height than along its width") +
      (told.measured ? " than its check bars say: measure them again" : ": measure its two check bars"));
}

void warn(CardPose& pose, const CardFit& fit, double misfit_squares) {
  if (misfit_squares > kPoorRmsSquares) {
    pose.warnings.push_back("the card's squares stand " + fixed(misfit_squares * pose.square_mm, 3) +
                            " mm off their places: lay the card flat; the scale's uncertainty is widened");
  }
  const double bow = std::max(std::abs(fit.bow_x_mm), std::abs(fit.bow_y_mm));
  const double u_bow = std::sqrt(std::max(fit.covariance(kBowX, kBowX), fit.covariance(kBowY, kBowY)));
  if (bow > kNotableBowSquares * pose.square_mm && bow > 3 * u_bow) {
    pose.warnings.push_back("the card is bowed by " + fixed(bow, 2) + " mm: press it flat");
  }
}

CardPose pose_of(const CardSaddles& card, const CardFitter& fitter, const Solutions& found) {
  const CardFit& fit = found.best;
  CardPose pose;
  pose.kind = card.layout.kind();
  pose.square_mm = card.layout.square_mm();
  pose.view = fit.view;
  settle_camera(pose.view, fit, card.prior);
  pose.variations = fitter.variations(fit);
  pose.print = fit.print;
  pose.bow_mm = fit.bow_x_mm;
  pose.rms_px = fit.rms_px;
  pose.saddles = fit.kept;
  pose.tilt_rad = tilt_of(fit.view);
  pose.tags = card.tags;
  pose.warnings = card.prior.warnings;
  constexpr double kNotable = 0.02;
  if (const double probability = mirror_probability(found); probability > kNotable) {
    pose.variations.push_back(mirror_variation(fit.view, found.mirror->view, probability));
    pose.warnings.push_back("the tilt cannot be told from its mirror image: the uncertainty covers both");
  }
  return pose;
}

}  // namespace

Result<CardPose> locate_card(const Photo& photo, const Setup& setup) {
  const Result<CardSaddles> card = find_saddles(photo, setup);
  if (!card) return card.error();
  const std::vector<double> all(card->saddles.size(), 1.0);
  if (const auto error = too_little(*card, all, photo)) return *error;

  const CardFitter fitter(card->layout, card->prior, setup.print);
  const Solutions found = solutions_of(fitter, *card, saddle_sightings(*card));
  const CardFit& fit = found.best;
  if (const auto error = too_little(*card, fit.weights, photo)) return *error;
  if (const auto error = unusable(fit, card->layout, photo)) return *error;

  CardPose pose = pose_of(*card, fitter, found);
  const double square = square_px(fit, card->layout);
  static const LinearLight kLight;
  const EdgeBlur blur = edge_blur(photo.bgr, kLight, printed_edges(*card, fit.weights, square), median_blur(*card));
  pose.blur_px = blur.blur_px;
  pose.overshoot = blur.overshoot;
  pose.tags = refined_tags(photo.bgr, std::move(pose.tags), pose.blur_px);
  warn(pose, fit, fit.rms_px / square);
  warn_of_stretch(pose, fit, setup.print);
  return pose;
}

}  // namespace glintline
