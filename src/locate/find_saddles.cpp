#include "locate/find_saddles.h"

#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/core/utility.hpp>
#include <optional>

#include "base/text.h"
#include "locate/markers.h"
#include "locate/saddle_fit.h"

namespace glintline {

namespace {

// Saddles under sawdust, a shadow's edge or a part's rim explain less of their window (by experiment:
// tests/locate/saddle_fit_test.cpp); sharpening and spread ink leave 0.95 and more, strong grain 0.85.
constexpr double kLeastLikeness = 0.8;
constexpr double kLeastContrast = 0.15;

// Centres, not corners: blur draws the corners inwards, and the centre stays.
std::vector<Sighting> marker_sightings(const CardMarkers& card, const CardLayout& layout) {
  std::vector<Sighting> seen;
  for (const SeenMarker& marker : card.markers) {
    const auto [column, row] = *layout.square_of(marker.id);
    const std::array<Point2, 4> corners = layout.marker_corners(column, row);
    Sighting centre;
    centre.board_mm = (corners[0] + corners[2]) / 2;
    const auto& c = marker.corners_px;
    centre.px = (c[0] + c[1] + c[2] + c[3]) / 4;
    centre.u_px = card.corner_u_px / 2;
    seen.push_back(centre);
  }
  return seen;
}

// Rough pixel size on the card: for the focus prior only.
double rough_mm_per_px(const CardMarkers& card, double square_mm) {
  double side_px = 0;
  for (const SeenMarker& m : card.markers) side_px += (m.corners_px[0] - m.corners_px[2]).norm() / std::sqrt(2.0);
  return 0.75 * square_mm * static_cast<double>(card.markers.size()) / side_px;
}

SaddleGuess guess_at(const CardFitter& fitter, const CardFit& fit, const CardLayout& layout,
                     const CardSaddle& printed) {
  const double step = layout.square_mm() / 8;
  SaddleGuess guess;
  guess.px = fitter.pixel(fit, printed.at_mm);
  const Point2 right = fitter.pixel(fit, printed.at_mm + Point2(step, 0));
  const Point2 left = fitter.pixel(fit, printed.at_mm - Point2(step, 0));
  const Point2 down = fitter.pixel(fit, printed.at_mm + Point2(0, step));
  const Point2 up = fitter.pixel(fit, printed.at_mm - Point2(0, step));
  guess.px_from_squares.col(0) = 4 * (right - left);
  guess.px_from_squares.col(1) = 4 * (down - up);
  guess.dark_top_left = printed.dark_top_left;
  return guess;
}

std::vector<SeenSaddle> measured_saddles(const Photo& photo, const CardFitter& fitter, const CardFit& fit,
                                         const CardLayout& layout) {
  static const LinearLight kLight;
  const std::vector<CardSaddle> all = layout.saddles();
  std::vector<std::optional<SaddleFit>> fits(all.size());
  cv::parallel_for_({0, static_cast<int>(all.size())}, [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k)
      fits[k] = fit_saddle(photo.bgr, kLight, guess_at(fitter, fit, layout, all[k]));
  });
  std::vector<SeenSaddle> saddles;
  for (std::size_t k = 0; k < all.size(); ++k) {
    const auto& seen = fits[k];
    if (!seen || seen->likeness < kLeastLikeness || seen->contrast < kLeastContrast) continue;
    saddles.push_back({all[k], seen->px, seen->u_px, seen->blur_px, seen->likeness});
  }
  return saddles;
}

Result<CardLayout> layout_of(CardKind kind, const Setup& setup) {
  if (setup.card_square_mm) return CardLayout::sized(kind, *setup.card_square_mm);
  return CardLayout(kind);
}

}  // namespace

Result<CardSaddles> find_saddles(const Photo& photo, const Setup& setup) {
  Result<CardMarkers> card = find_markers(photo);
  if (!card) return card.error();
  const Result<CardLayout> layout = layout_of(card->kind, setup);
  if (!layout) return layout.error();
  CardSaddles result{*layout, {}, card->tags, static_cast<int>(card->markers.size()), {}, {}, {}};
  result.prior = camera_prior(photo, setup, rough_mm_per_px(*card, layout->square_mm()));
  const CardFitter fitter(*layout, result.prior, setup.print);
  const std::vector<Sighting> centres = marker_sightings(*card, *layout);
  std::vector<Pose> poses;
  try {
    poses = fitter.mirror_poses(centres);
  } catch (const cv::Exception&) {
    poses.clear();  // the squares seen lie in one line: said below
  }
  if (poses.empty()) {
    return Error{Fault::kCardHidden, "the squares seen settle no pose: uncover more of the card", photo.path};
  }
  result.coarse = fitter.fit(centres, poses[0]);
  if (poses.size() > 1) result.mirror = poses[1];
  result.saddles = measured_saddles(photo, fitter, result.coarse, *layout);
  return result;
}

}  // namespace glintline
