#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>

#include "math/linear_light.h"
#include "math/geometry.h"

namespace glintline {

/// Where a saddle is expected and how the squares run there.
struct SaddleGuess {
  Point2 px = Point2::Zero();
  Eigen::Matrix2d px_from_squares;  ///< columns: pixels per square along the board's X and Y
  bool dark_top_left = false;       ///< the squares towards -X-Y and +X+Y are the dark ones
};

/// A saddle as measured.
struct SaddleFit {
  Point2 px = Point2::Zero();
  double u_px = 0;      ///< standard uncertainty per coordinate from the pixels' own misfit; neighbouring pixels'
                        ///< noise is taken as independent, so it is a lower bound
  double blur_px = 0;   ///< standard deviation of the blur, in linear light
  double likeness = 0;  ///< share of the window's variance that the model explains, 1 = all
  double contrast = 0;  ///< half the step over the mean level
};

/// Fits the blurred crossing of two square edges to the pixels around `guess`, in linear light:
///
///   I(p) = (1 + g . (p - c)) (a + b E(n1 . (p - c) / s) E(n2 . (p - c) / s)),   E(z) = erf(z / sqrt 2)
///
/// with the edges' normals n1, n2 taken from the guess; free are the centre c, the blur s, the levels a and b and the
/// shading g (7 parameters, Gauss-Newton). The window stays inside the white margin that separates a square's edge
/// from its marker (an eighth of a square) and fades out to its rim. Spread ink, sharpening and an unfit blur are
/// symmetric about the centre and so leave it where it is.
/// Nothing where the picture shows no such crossing near the guess, the wrong polarity, or the window is cut off.
[[nodiscard]] std::optional<SaddleFit> fit_saddle(const cv::Mat& bgr, const LinearLight& light,
                                                  const SaddleGuess& guess);

}  // namespace glintline
