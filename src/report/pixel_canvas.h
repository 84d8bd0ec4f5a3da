#pragma once

#include <cairo.h>

#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "math/geometry.h"

namespace glintline {

/// sRGB, each 0 to 1.
struct Rgb {
  double red;
  double green;
  double blue;
};

/// A rectangle on the canvas; pixels, y down.
struct Area {
  double x;
  double y;
  double width;
  double height;
};

struct Lettering {
  double size_px;
  Rgb colour;
  bool bold = false;
};

struct Stroke {
  Rgb colour;
  double width_px;
  bool dashed = false;
};

/// A sheet of pixels to draw on. Coordinates follow Cairo: whole numbers are the pixels' *corners*, so the centre of
/// the top-left pixel lies at (0.5, 0.5).
class PixelCanvas {
 public:
  PixelCanvas(int width_px, int height_px, Rgb paper);

  [[nodiscard]] int width() const { return cairo_image_surface_get_width(surface_.get()); }
  [[nodiscard]] int height() const { return cairo_image_surface_get_height(surface_.get()); }

  void fill(const Area& box, Rgb colour, double opacity = 1);
  void frame(const Area& box, const Stroke& stroke);
  /// Puts a CV_8UC3 picture with its top-left corner on whole pixels; what sticks out is cut off.
  void picture(const cv::Mat& bgr, int x, int y);
  void line(const std::vector<Point2>& points, const Stroke& stroke, bool closed = false);
  /// The line on a darker, wider one, so that it shows on bright steel and on dark alike.
  void line_with_halo(const std::vector<Point2>& points, const Stroke& stroke, bool closed = false);
  void disc(const Point2& centre, double radius, Rgb colour);
  void ring(const Point2& centre, double radius, const Stroke& stroke);
  void arrow_head(const Point2& tip, const Point2& direction, double size, Rgb colour);

  /// Text (any bytes) with its baseline starting at `at`.
  void text(const std::string& text, const Point2& at, const Lettering& style);
  void text_centred(const std::string& text, const Point2& middle, const Lettering& style);

  /// Everything drawn until `unclip` stays inside `box`.
  void clip(const Area& box);
  void unclip();

  /// The pixels as CV_8UC4, BGRX. Valid while the canvas lives.
  [[nodiscard]] cv::Mat pixels() const;

 private:
  void outline(const std::vector<Point2>& points, bool closed);

  struct DropSurface {
    void operator()(cairo_surface_t* surface) const { cairo_surface_destroy(surface); }
  };
  struct DropContext {
    void operator()(cairo_t* context) const { cairo_destroy(context); }
  };
  std::unique_ptr<cairo_surface_t, DropSurface> surface_;
  std::unique_ptr<cairo_t, DropContext> context_;
};

/// Width of the text in pixels.
[[nodiscard]] double text_width(const std::string& text, const Lettering& style);

}  // namespace glintline
