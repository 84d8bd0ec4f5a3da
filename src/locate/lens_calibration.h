#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "locate/lens_fit.h"
#include "model/photo.h"
#include "model/setup.h"

namespace glintline {

/// One photograph's share of a calibration.
struct LensSight {
  std::string path;
  BoardSight seen;  ///< true print taken into account as far as the set-up tells it
};

/// The card's crossings in one photograph, as the *stored* picture shows them, and which card it is.
struct CardSight {
  LensSight sight;
  CardLayout layout;
};

/// Finds the card by its markers and refines its saddles. Tilt is not limited here: it is what tells the focal length.
/// Fails: kNoCard, kWrongCard, kCardHidden.
[[nodiscard]] Result<CardSight> lens_sight(const Photo& photo, const Setup& setup);

/// What is believed of a card's sheet before it is photographed.
[[nodiscard]] SheetPrior sheet_prior(const CardLayout& layout, const PrintScale& print);

/// Learns the camera from the sights. A photograph whose crossings miss by more than three times what the photographs
/// usually miss is left out with that reason, the worst first, as long as kNeededLensPhotos stay.
/// Refused (kNotMeasurable): fewer sights than that, or a focal length that stays unknown by more than 5 %.
/// In: size of the stored pictures, px.
[[nodiscard]] LensCalibration calibrate_lens(const std::vector<LensSight>& sights, const cv::Size& stored,
                                             const SheetPrior& sheet);

}  // namespace glintline
