#pragma once

#include <string>
#include <vector>

#include "math/geometry.h"

using cairo_t = struct _cairo;

namespace glintline {

/// sRGB, 0 to 1.
struct Colour {
  double r = 0;
  double g = 0;
  double b = 0;
};

inline constexpr Colour kBlack{0, 0, 0};
inline constexpr Colour kWhite{1, 1, 1};
inline constexpr Colour kGrey{0.45, 0.45, 0.45};
inline constexpr Colour kPale{0.90, 0.90, 0.90};
inline constexpr Colour kSteel{0.80, 0.82, 0.84};
inline constexpr Colour kDarkSteel{0.60, 0.62, 0.65};
inline constexpr Colour kWood{0.93, 0.85, 0.70};
inline constexpr Colour kDarkWood{0.84, 0.73, 0.55};
inline constexpr Colour kFieldBlue{20 / 255.0, 70 / 255.0, 190 / 255.0};
inline constexpr Colour kWarning{0.78, 0.10, 0.05};

struct Box {
  double x = 0;
  double y = 0;
  double width = 0;
  double height = 0;

  [[nodiscard]] Point2 centre() const { return {x + width / 2, y + height / 2}; }
};

struct Pen {
  double width_mm = 0.25;
  Colour colour = kBlack;
  double dash_mm = 0;  ///< 0: solid
};

enum class Align { kLeft, kCentre, kRight };

struct TextStyle {
  double size_mm = 3;
  bool bold = false;
  Align align = Align::kLeft;
  Colour colour = kBlack;
  double widest_mm = 0;   ///< shrunk to fit into this width; 0: no limit
  double turned_deg = 0;  ///< clockwise
};

/// A page to draw on, in millimetres from its top-left corner, X right, Y down. Owns nothing: the cairo context lives
/// as long as the sheet that is being written.
class Canvas {
 public:
  explicit Canvas(cairo_t* context) : cairo_(context) {}

  /// Fills all boxes as one path, so that abutting ones leave no hairline between them.
  void fill(const std::vector<Box>& boxes, const Colour& colour) const;
  void fill(const Box& box, const Colour& colour) const { fill(std::vector<Box>{box}, colour); }
  void outline(const Box& box, const Pen& pen) const;
  void polygon(const std::vector<Point2>& corners, const Colour& inside, const Pen& pen) const;
  void lines(const std::vector<Point2>& points, const Pen& pen) const;
  void circle(const Point2& centre, double radius_mm, const Colour& inside, const Pen& pen) const;
  void arrow(const Point2& from, const Point2& to, const Pen& pen) const;

  /// Text with its baseline at `at`.
  void text(const Point2& at, const std::string& words, const TextStyle& style) const;

  /// Text broken into lines of at most `wide_mm`, the first baseline at `at`. Returns the height it takes.
  double paragraph(const Point2& at, const std::string& words, double wide_mm, const TextStyle& style) const;

  /// A measure between two points: its line lies `offset_mm` off (to the left of a to b), with extension lines.
  void dimension(const Point2& a, const Point2& b, double offset_mm, const std::string& label) const;

 private:
  [[nodiscard]] double width_of(const std::string& words, const TextStyle& style) const;
  void trace(const std::vector<Point2>& points) const;
  void stroke(const Pen& pen) const;
  void set(const Colour& colour) const;

  cairo_t* cairo_;
};

}  // namespace glintline
