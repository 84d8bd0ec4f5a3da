#pragma once

#include <opencv2/core/mat.hpp>
#include <vector>

#include "math/linear_light.h"
#include "math/geometry.h"

namespace glintline {

/// A straight black-white edge of the card: from one saddle to the next, the white square on the side of `to_white`.
struct PrintedEdge {
  Point2 from_px = Point2::Zero();
  Point2 to_px = Point2::Zero();
  Point2 to_white = Point2::Zero();  ///< unit normal in the picture
  double square_px = 0;              ///< size of a square across the edge
};

/// What the lens, the focus and the camera's own sharpening make of the card's edges.
struct EdgeBlur {
  double blur_px = 0;    ///< median over the edges: standard deviation of the Gaussian blur, in linear light
  double overshoot = 0;  ///< mean of the bright and the dark halo, as a share of the step, in encoded levels (cameras
                         ///< sharpen those)
  int edges = 0;         ///< how many edges were clean enough
};

/// In: rough_blur_px, to keep clear of the markers' own blurred borders. Fits a blurred step I = (1 + g d) (a + b
/// erf((d - d0) / (s sqrt 2))) to the middle half of each edge within the white margin before the marker, and averages
/// the profiles for the halo.
[[nodiscard]] EdgeBlur edge_blur(const cv::Mat& bgr, const LinearLight& light, const std::vector<PrintedEdge>& edges,
                                 double rough_blur_px);

}  // namespace glintline
