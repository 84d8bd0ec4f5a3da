#include "card/canvas.h"

#include <cairo.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <sstream>

namespace glintline {

void Canvas::set(const Colour& colour) const { cairo_set_source_rgb(cairo_, colour.r, colour.g, colour.b); }

void Canvas::stroke(const Pen& pen) const {
  set(pen.colour);
  cairo_set_line_width(cairo_, pen.width_mm);
  const double dash = pen.dash_mm;
  cairo_set_dash(cairo_, &dash, dash > 0 ? 1 : 0, 0);
  cairo_stroke(cairo_);
}

void Canvas::trace(const std::vector<Point2>& points) const {
  for (const Point2& p : points) cairo_line_to(cairo_, p.x(), p.y());
}

void Canvas::fill(const std::vector<Box>& boxes, const Colour& colour) const {
  for (const Box& b : boxes) {
    // Corner by corner: cairo_rectangle() rounds place and size apart, which leaves gaps between abutting boxes.
    cairo_move_to(cairo_, b.x, b.y);
    trace({{b.x + b.width, b.y}, {b.x + b.width, b.y + b.height}, {b.x, b.y + b.height}});
    cairo_close_path(cairo_);
  }
  set(colour);
  cairo_fill(cairo_);
}

void Canvas::outline(const Box& box, const Pen& pen) const {
  cairo_rectangle(cairo_, box.x, box.y, box.width, box.height);
  stroke(pen);
}

void Canvas::polygon(const std::vector<Point2>& corners, const Colour& inside, const Pen& pen) const {
  trace(corners);
  cairo_close_path(cairo_);
  set(inside);
  cairo_fill_preserve(cairo_);
  stroke(pen);
}

void Canvas::lines(const std::vector<Point2>& points, const Pen& pen) const {
  trace(points);
  stroke(pen);
}

void Canvas::circle(const Point2& centre, double radius_mm, const Colour& inside, const Pen& pen) const {
  cairo_new_sub_path(cairo_);
  cairo_arc(cairo_, centre.x(), centre.y(), radius_mm, 0, 2 * std::numbers::pi);
  set(inside);
  cairo_fill_preserve(cairo_);
  stroke(pen);
}

void Canvas::arrow(const Point2& from, const Point2& to, const Pen& pen) const {
  constexpr double kHeadMm = 1.8;
  const Point2 along = (to - from).normalized();
  const Point2 across = turned_quarter(along);
  const Point2 neck = to - kHeadMm * along;
  lines({from, neck}, pen);
  polygon({to, neck + 0.3 * kHeadMm * across, neck - 0.3 * kHeadMm * across}, pen.colour,
          {.width_mm = 0.05, .colour = pen.colour});
}

double Canvas::width_of(const std::string& words, const TextStyle& style) const {
  cairo_select_font_face(cairo_, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         style.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(cairo_, style.size_mm);
  cairo_text_extents_t extents;
  cairo_text_extents(cairo_, words.c_str(), &extents);
  return extents.x_advance;
}

void Canvas::text(const Point2& at, const std::string& words, const TextStyle& style) const {
  cairo_save(cairo_);
  const double wide = width_of(words, style);
  const double shrink = style.widest_mm > 0 && wide > style.widest_mm ? style.widest_mm / wide : 1;
  const double share = style.align == Align::kLeft ? 0 : style.align == Align::kCentre ? 0.5 : 1;
  cairo_translate(cairo_, at.x(), at.y());
  cairo_rotate(cairo_, style.turned_deg * std::numbers::pi / 180);
  cairo_scale(cairo_, shrink, shrink);
  cairo_move_to(cairo_, -share * wide, 0);
  set(style.colour);
  cairo_show_text(cairo_, words.c_str());
  cairo_restore(cairo_);
  cairo_new_path(cairo_);
}

double Canvas::paragraph(const Point2& at, const std::string& words, double wide_mm, const TextStyle& style) const {
  const double step = 1.3 * style.size_mm;
  std::istringstream rest(words);
  std::string line;
  double down = 0;
  for (std::string word; rest >> word;) {
    const std::string longer = line.empty() ? word : line + " " + word;
    if (!line.empty() && width_of(longer, style) > wide_mm) {
      text(at + Point2(0, down), line, style);
      down += step;
      line = word;
    } else {
      line = longer;
    }
  }
  text(at + Point2(0, down), line, style);
  return down + step;
}

void Canvas::dimension(const Point2& a, const Point2& b, double offset_mm, const std::string& label) const {
  const Pen thin{.width_mm = 0.13, .colour = kGrey};
  const Point2 along = (b - a).normalized();
  const Point2 aside = -turned_quarter(along) * offset_mm;  // the left of a to b, as a person walking it sees it
  const Point2 reach = aside.normalized() * 1.2;
  lines({a, a + aside + reach}, thin);
  lines({b, b + aside + reach}, thin);
  const Point2 middle = (a + b) / 2 + aside;
  const bool narrow = (b - a).norm() < 9;
  if (narrow) {  // arrows from outside, the label beyond the second one
    arrow(a + aside - 5 * along, a + aside, thin);
    arrow(b + aside + 5 * along, b + aside, thin);
  } else {
    arrow(middle, a + aside, thin);
    arrow(middle, b + aside, thin);
  }
  const bool upright = std::abs(along.y()) > std::abs(along.x());
  const Point2 lift = upright ? Point2(-0.9, 0) : Point2(0, -0.9);
  if (narrow) {
    const Point2 beyond = b + aside + 6 * along;
    text(beyond + Point2(0, 1), label, {.size_mm = 2.9, .align = along.x() < -0.5 ? Align::kRight : Align::kLeft});
    return;
  }
  text(middle + lift, label, {.size_mm = 2.9, .align = Align::kCentre, .turned_deg = upright ? -90.0 : 0.0});
}

}  // namespace glintline
