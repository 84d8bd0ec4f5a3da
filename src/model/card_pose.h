#pragma once

#include <array>
#include <string>
#include <vector>

#include "model/camera_view.h"
#include "model/quantity.h"

namespace glintline {

/// Squares across and down. Odd counts, so that old and new OpenCV agree on the pattern.
inline constexpr int kCardColumns = 21;
inline constexpr int kCardRows = 15;
/// The plain field in the middle, in squares.
inline constexpr int kFieldColumns = 13;
inline constexpr int kFieldRows = 9;
inline constexpr int kFieldFirstColumn = (kCardColumns - kFieldColumns) / 2;
inline constexpr int kFieldFirstRow = (kCardRows - kFieldRows) / 2;

/// The reference card's two sizes.
enum class CardKind { kWide, kClose };

/// The measured size of a print: true length divided by nominal length, along the board's X and Y.
struct PrintScale {
  double x = 1;
  double y = 1;
  double u_rel = 0.005;   ///< standard uncertainty of each; 0.005 (1 % at k = 2) for a print nobody measured
  bool measured = false;  ///< the user read the check bars
};

/// A loose number tag: "the cutter beside me is number `number`".
struct NumberTag {
  int number = 0;
  std::array<Point2, 4> corners_px;  ///< clockwise from the tag's own top left
};

/// The camera view re-solved with one influence moved by one standard uncertainty. What a value changes from the
/// nominal view to this one is its standard uncertainty due to `source`; lines of one source are independent.
struct ViewVariation {
  Source source;
  CameraView view;
};

/// An axis-parallel rectangle in the board frame, mm.
struct BoardBox {
  Point2 min;
  Point2 max;
};

/// Where the card is, through which camera, and how well that is known.
struct CardPose {
  CardKind kind = CardKind::kWide;
  double square_mm = 5;  ///< nominal side of one square
  CameraView view;
  std::vector<ViewVariation> variations;  ///< pose (eigenvectors of its covariance), focal length, print, bow
  PrintScale print;
  double bow_mm = 0;      ///< lift of the paper's left and right ends over its middle, quadratic along X
  double rms_px = 0;      ///< root mean square distance of the saddles from the model, per coordinate
  int saddles = 0;        ///< how many saddles the model rests on
  double tilt_rad = 0;    ///< between optical axis and card normal
  double blur_px = 0;     ///< standard deviation of the blur at the card's own edges, median
  double overshoot = 0;   ///< mean overshoot at the card's black-white edges as a share of their step (sharpening)
  std::vector<NumberTag> tags;
  std::vector<std::string> warnings;  ///< what was noticed: bow, tilt that cannot be told from its mirror image, ...

  /// The plain field in the board frame, true mm.
  [[nodiscard]] BoardBox field() const {
    const Point2 square(square_mm * print.x, square_mm * print.y);
    return {Point2(kFieldFirstColumn * square.x(), kFieldFirstRow * square.y()),
            Point2((kFieldFirstColumn + kFieldColumns) * square.x(), (kFieldFirstRow + kFieldRows) * square.y())};
  }

  /// The whole board in the board frame, true mm.
  [[nodiscard]] BoardBox board() const {
    return {Point2(0, 0), Point2(kCardColumns * square_mm * print.x, kCardRows * square_mm * print.y)};
  }
};

}  // namespace glintline
