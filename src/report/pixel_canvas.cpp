#include "report/pixel_canvas.h"

#include <cmath>
#include <opencv2/imgproc.hpp>

#include "report/text_layout.h"

namespace glintline {
namespace {

constexpr Rgb kHalo{0.05, 0.06, 0.08};
constexpr double kHaloExtra_px = 2.5;

void use(cairo_t* context, Rgb colour, double opacity = 1) {
  cairo_set_source_rgba(context, colour.red, colour.green, colour.blue, opacity);
}

void use(cairo_t* context, const Lettering& style) {
  cairo_select_font_face(context, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                         style.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(context, style.size_px);
  use(context, style.colour);
}

}  // namespace

PixelCanvas::PixelCanvas(int width_px, int height_px, Rgb paper)
    : surface_(cairo_image_surface_create(CAIRO_FORMAT_RGB24, width_px, height_px)),
      context_(cairo_create(surface_.get())) {
  cairo_set_line_join(context_.get(), CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(context_.get(), CAIRO_LINE_CAP_ROUND);
  fill({0, 0, static_cast<double>(width_px), static_cast<double>(height_px)}, paper);
}

void PixelCanvas::fill(const Area& box, Rgb colour, double opacity) {
  use(context_.get(), colour, opacity);
  cairo_rectangle(context_.get(), box.x, box.y, box.width, box.height);
  cairo_fill(context_.get());
}

void PixelCanvas::frame(const Area& box, const Stroke& stroke) {
  line({{box.x, box.y},
        {box.x + box.width, box.y},
        {box.x + box.width, box.y + box.height},
        {box.x, box.y + box.height}},
       stroke, true);
}

void PixelCanvas::picture(const cv::Mat& bgr, int x, int y) {
  const cv::Rect place = cv::Rect(x, y, bgr.cols, bgr.rows) & cv::Rect(0, 0, width(), height());
  if (place.empty()) return;
  cairo_surface_flush(surface_.get());
  cv::Mat target = pixels()(place);
  cv::cvtColor(bgr(place - cv::Point(x, y)), target, cv::COLOR_BGR2BGRA);
  cairo_surface_mark_dirty(surface_.get());
}

void PixelCanvas::outline(const std::vector<Point2>& points, bool closed) {
  cairo_new_path(context_.get());
  for (const Point2& point : points) cairo_line_to(context_.get(), point.x(), point.y());
  if (closed) cairo_close_path(context_.get());
}

void PixelCanvas::line(const std::vector<Point2>& points, const Stroke& stroke, bool closed) {
  if (points.size() < 2) return;
  const double dashes[] = {4 * stroke.width_px + 4, 3 * stroke.width_px + 4};
  cairo_set_dash(context_.get(), dashes, stroke.dashed ? 2 : 0, 0);
  outline(points, closed);
  use(context_.get(), stroke.colour);
  cairo_set_line_width(context_.get(), stroke.width_px);
  cairo_stroke(context_.get());
}

void PixelCanvas::line_with_halo(const std::vector<Point2>& points, const Stroke& stroke, bool closed) {
  line(points, {kHalo, stroke.width_px + kHaloExtra_px, stroke.dashed}, closed);
  line(points, stroke, closed);
}

void PixelCanvas::disc(const Point2& centre, double radius, Rgb colour) {
  use(context_.get(), colour);
  cairo_new_path(context_.get());
  cairo_arc(context_.get(), centre.x(), centre.y(), radius, 0, 2 * M_PI);
  cairo_fill(context_.get());
}

void PixelCanvas::ring(const Point2& centre, double radius, const Stroke& stroke) {
  for (const Stroke& pass : {Stroke{kHalo, stroke.width_px + kHaloExtra_px}, stroke}) {
    cairo_set_dash(context_.get(), nullptr, 0, 0);
    use(context_.get(), pass.colour);
    cairo_set_line_width(context_.get(), pass.width_px);
    cairo_new_path(context_.get());
    cairo_arc(context_.get(), centre.x(), centre.y(), radius, 0, 2 * M_PI);
    cairo_stroke(context_.get());
  }
}

void PixelCanvas::arrow_head(const Point2& tip, const Point2& direction, double size, Rgb colour) {
  const Point2 along = direction.normalized() * size;
  const Point2 across = turned_quarter(along) * 0.42;
  outline({tip, tip - along + across, tip - along - across}, true);
  use(context_.get(), colour);
  cairo_fill(context_.get());
}

void PixelCanvas::text(const std::string& text, const Point2& at, const Lettering& style) {
  use(context_.get(), style);
  cairo_move_to(context_.get(), at.x(), at.y());
  cairo_show_text(context_.get(), printable(text).c_str());
}

void PixelCanvas::text_centred(const std::string& text, const Point2& middle, const Lettering& style) {
  use(context_.get(), style);
  cairo_text_extents_t extents;
  const std::string shown = printable(text);
  cairo_text_extents(context_.get(), shown.c_str(), &extents);
  cairo_move_to(context_.get(), middle.x() - extents.width / 2 - extents.x_bearing,
                middle.y() - extents.height / 2 - extents.y_bearing);
  cairo_show_text(context_.get(), shown.c_str());
}

void PixelCanvas::clip(const Area& box) {
  cairo_save(context_.get());
  cairo_new_path(context_.get());
  cairo_rectangle(context_.get(), box.x, box.y, box.width, box.height);
  cairo_clip(context_.get());
}

void PixelCanvas::unclip() { cairo_restore(context_.get()); }

cv::Mat PixelCanvas::pixels() const {
  cairo_surface_flush(surface_.get());
  return cv::Mat(height(), width(), CV_8UC4, cairo_image_surface_get_data(surface_.get()),
                 static_cast<std::size_t>(cairo_image_surface_get_stride(surface_.get())));
}

double text_width(const std::string& text, const Lettering& style) {
  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_A8, 1, 1), cairo_surface_destroy);
  const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> context(cairo_create(surface.get()), cairo_destroy);
  use(context.get(), style);
  cairo_text_extents_t extents;
  cairo_text_extents(context.get(), printable(text).c_str(), &extents);
  return extents.x_advance;
}

}  // namespace glintline
