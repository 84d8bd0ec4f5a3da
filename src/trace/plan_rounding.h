#pragma once

#include <vector>

#include "model/plan_outlines.h"
#include "trace/plan_edge.h"

namespace glintline {

/// What is known of the strip before it is fitted.
struct RoundingTask {
  StripModel model;         ///< lean, horizon and start; the blur is found
  double px_per_mm = 0;     ///< at the edge
  double station_mm = 0.1;  ///< spacing of the answers
  double colour_blur_px = 0;  ///< standard deviation by which colour is blurred more than luma, across the edge
};

/// The strip's forward model, fitted to every station of an edge and smoothed along it.
///
/// Seen square to the edge, a rounding of radius r (px) whose outline lies at n2 shows the normal that leans by phi
/// against the sight line at n = n2 - r (1 - sin phi). Four zones follow each other: the *flat*, whose normal leans by
/// -lean; the *lit* part up to phi = horizon, whose light changes steadily from the flat's, since a room is not of one
/// brightness; the part that *mirrors* what lies below up to phi = 90 degrees; and the *ground*. Their light is free in
/// each colour, but the mirror part cannot shine by itself: steel gives back about half of what lies below, and
/// scatters up to twice as much as the flat. The sum is blurred by the picture's own blur, a Gaussian that the edge
/// itself chooses; the camera's sharpening was taken out of the strip before. Luma and colour are two pictures of the
/// same strip: JPEG stores colour more coarsely, and read as sharp as luma it runs over the edge and looks like a strip
/// that mirrors the slip.
///
/// For every station the likelihood of a grid of (r, n2) is computed, the levels solved by linear least squares; a
/// forward-backward pass (Rabiner, A tutorial on hidden Markov models, Proc. IEEE 77, 1989, eq. 19-27) joins the
/// stations under the assumption that r changes by some 8 % in 0.05 mm. Mean and spread of the posterior are the
/// answer. Stations inside chips take part as unknown.
///
/// out: stations from s = 0 on, StripModel with the blur that was found.
struct RoundingFit {
  std::vector<EdgeStation> stations;
  std::vector<StripEnd> ends;  ///< of the strips that stand out
  StripModel model;
};
[[nodiscard]] RoundingFit fit_rounding(const EdgeStrip& strip, const EdgePath& path, const RoundingTask& task);

}  // namespace glintline
