#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "math/geometry.h"
#include "trace/sharpening.h"

namespace glintline {

/// Oblique coordinates on a cutting edge: s along it from the working corner, n square to it, positive ahead of the
/// plate. Places of equal s lie on a line *along the chain*: grinding marks on the flat and links below run that way,
/// so flat and ground change little along such a line.
struct EdgeFrame {
  Point2 corner_px = Point2::Zero();
  Point2 along = Point2::UnitX();  ///< unit, from the working corner inwards
  Point2 ahead = Point2::UnitY();  ///< unit, the chain's running direction in the picture
  double length_px = 0;
  double sine = 1;  ///< of the angle between along and ahead

  [[nodiscard]] Point2 px(double s, double n) const { return corner_px + s * along + (n / sine) * ahead; }
  /// The oblique coordinates of a pixel: s, and n.
  [[nodiscard]] double s(const Point2& px) const {
    const Point2 across = turned_quarter(ahead);
    return (px - corner_px).dot(across) / along.dot(across);
  }
  [[nodiscard]] double n(const Point2& px) const {
    const Point2 across = turned_quarter(along);
    return sine * (px - corner_px).dot(across) / ahead.dot(across);
  }
};

/// Linear light in an EdgeFrame: rows are stations in s, columns places in n.
struct EdgeStrip {
  EdgeFrame frame;
  double first_s = 0;
  double step_s = 1;
  double first_n = 0;
  double step_n = 0.5;
  cv::Mat linear;  ///< CV_32FC3; NaN outside the picture

  [[nodiscard]] double s(int row) const { return first_s + row * step_s; }
  [[nodiscard]] double n(double column) const { return first_n + column * step_n; }
  [[nodiscard]] double column(double n_px) const { return (n_px - first_n) / step_n; }
};

/// What of a picture lies about an edge, in linear light, the camera's sharpening taken out: its halos look like
/// strips.
struct EdgeLight {
  cv::Mat linear;                      ///< CV_32FC3
  cv::Point origin = cv::Point(0, 0);  ///< of the picture, where it begins

  /// True where all that a strip shows of the picture lies in it.
  [[nodiscard]] bool holds(const cv::Size& picture, const EdgeFrame& frame, double behind_px, double beyond_px) const;
};

/// With room for the same edge seen a little elsewhere.
[[nodiscard]] EdgeLight light_about(const cv::Mat& bgr, const Sharpening& sharpening, const EdgeFrame& frame,
                                    double behind_px, double beyond_px);

/// Samples it from `behind_px` inside the plate to `beyond_px` ahead of it.
[[nodiscard]] EdgeStrip sample_edge(const EdgeLight& light, const EdgeFrame& frame, double behind_px, double beyond_px);

/// The outline to about a pixel: for every row the place n where flat, strip and dirt end and the ground begins.
struct EdgePath {
  std::vector<double> n_px;       ///< one a row
  std::vector<double> line_px;    ///< the straight line of the clear rows, n at every row
  std::vector<double> flat_n_px;  ///< where the flat ends: behind n_px in a gap through which a lower wall shows
  /// Where the row stops looking like the plate behind it, near the corner; else n_px. Along the chain the plate's light
  /// changes little: what lies between here and n_px is rounding, dirt or other metal.
  std::vector<double> alike_n_px;
  /// Brightest place of the line of light that a dull edge has, where a row shows it (trace/plan_flash.h).
  std::vector<std::optional<double>> flash_n_px;
  std::vector<bool> open;  ///< what lies ahead of the straight line shows behind it too, up to the outline: a gap
  std::vector<bool> broken;       ///< the line of light is broken here: something is missing, or dirt lies on it
  std::vector<bool> contrast;     ///< false where flat and ground look alike, so that the place is only interpolated
  std::vector<cv::Vec3f> flat;    ///< linear light of the flat at the row
  std::vector<cv::Vec3f> ground;  ///< of the ground at the row
};

/// Where a fitted strip ends: the outline at one row.
struct StripEnd {
  int row = 0;
  double n_px = 0;
};

/// Cheapest path through the strip (dynamic programming): every sample before the outline pays for not looking like
/// the flat, every sample beyond it for not looking like the ground; a stranger to both belongs to the plate, because
/// rounding and dirt do. `px_per_mm` scales the ranges in which flat and ground are learned.
[[nodiscard]] EdgePath find_outline(const EdgeStrip& strip, double px_per_mm);

/// The path moved to where the light is half-way between the ground and the first thing that differs from it, going
/// inwards; rows of a path step or two are averaged. What mirrors the ground just as bright still hides the outline.
/// Short pieces cut off ahead of the rest are given up.
void sharpen_path(const EdgeStrip& strip, double px_per_mm, EdgePath& path);

/// Moves the sharpened path to the fitted strips' ends, row by row between neighbouring ones: half-way light lies
/// inside the outline where the rounding's last part mirrors the ground. `reach_rows`: farther apart they are no
/// neighbours.
void move_to_strips(const std::vector<StripEnd>& ends, int reach_rows, EdgePath& path);

/// The same where no slip lies under the edge: there ground as bright as the line of light hides where that ends, and
/// dark ground does not. So rows that show the line take its brightest place, moved by what the strips usually end
/// ahead of it. Before ground as bright as that the path ends the flat: there it is moved on by as much as the line of
/// light reaches beyond the flat elsewhere.
void move_to_flash(const EdgeStrip& strip, const std::vector<StripEnd>& ends, EdgePath& path);

}  // namespace glintline
