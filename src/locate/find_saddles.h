#pragma once

#include <optional>
#include <vector>

#include "base/result.h"
#include "card/layout.h"
#include "locate/card_fit.h"
#include "model/photo.h"
#include "model/setup.h"

namespace glintline {

/// One crossing of the card's squares as measured at full resolution.
struct SeenSaddle {
  CardSaddle printed;
  Point2 px = Point2::Zero();
  double u_px = 0;      ///< standard uncertainty per coordinate, from the pixels alone: a lower bound
  double blur_px = 0;   ///< linear light
  double likeness = 0;  ///< share of the window's variance that the blurred crossing explains
};

/// The card's measured points in one photograph, before any camera is fitted to them in earnest.
struct CardSaddles {
  CardLayout layout;
  std::vector<SeenSaddle> saddles;
  std::vector<NumberTag> tags;
  int squares_seen = 0;  ///< markers that agree on the card
  CameraPrior prior;
  CardFit coarse;              ///< fitted to the markers: good to a pixel or two
  std::optional<Pose> mirror;  ///< the other pose of a plane that shows the markers nearly alike
};

/// Finds the card by its markers and measures all its visible saddles; usable alone, e.g. to calibrate a camera.
/// Fails: kNoCard, kWrongCard, kCardHidden.
[[nodiscard]] Result<CardSaddles> find_saddles(const Photo& photo, const Setup& setup);

}  // namespace glintline
