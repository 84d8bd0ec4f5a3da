#include "card/sheet_writer.h"

#include <cairo-pdf.h>
#include <cairo.h>
#include <png.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <csetjmp>
#include <cstring>
#include <fstream>
#include <memory>

#include "base/text.h"

#ifdef __SANITIZE_ADDRESS__
// Fontconfig, which cairo asks for the sheets' font, keeps some 1000 bytes until the process ends, however many sheets
// are drawn; the leak checker of the sanitizer build shall only speak of leaks that are ours.
extern "C" const char* __lsan_default_suppressions() { return "leak:libfontconfig\n"; }
extern "C" const char* __lsan_default_options() { return "print_suppressions=0"; }
#endif

namespace glintline {
namespace {

constexpr double kMmPerInch = 25.4;
constexpr double kPointsPerMm = 72 / kMmPerInch;
constexpr int kBandRows = 256;

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Context = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;

Error cannot_write(const std::filesystem::path& path, const std::string& reason) {
  return {Fault::kCannotWrite, "cannot write the sheet (" + reason + "): choose another place or make room", path};
}

/// Lengths of glyphs must not depend on the resolution, else words shift between PDF and PNG.
void unhint(cairo_t* context) {
  cairo_font_options_t* options = cairo_font_options_create();
  cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
  cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
  cairo_set_font_options(context, options);
  cairo_font_options_destroy(options);
}

/// Draws in millimetres onto `surface`, the sheet's top-left corner at (0, -top) of its own units.
cairo_status_t draw_onto(cairo_surface_t* surface, double units_per_mm, double top, const Drawing& drawing) {
  const Context context(cairo_create(surface), &cairo_destroy);
  unhint(context.get());
  cairo_translate(context.get(), 0, -top);
  cairo_scale(context.get(), units_per_mm, units_per_mm);
  drawing(Canvas(context.get()));
  return cairo_status(context.get());
}

cairo_status_t append(void* bytes, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(bytes)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

Result<std::string> as_pdf(const SheetFile& file, const std::string& title, const Drawing& drawing) {
  std::string bytes;
  const PaperSize paper = size_of(file.paper);
  const Surface surface(cairo_pdf_surface_create_for_stream(&append, &bytes, paper.width_mm * kPointsPerMm,
                                                            paper.height_mm * kPointsPerMm),
                        &cairo_surface_destroy);
  cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, title.c_str());
  const cairo_status_t drawn = draw_onto(surface.get(), kPointsPerMm, 0, drawing);
  cairo_surface_finish(surface.get());
  for (const cairo_status_t status : {drawn, cairo_surface_status(surface.get())}) {
    if (status != CAIRO_STATUS_SUCCESS) return cannot_write(file.path, cairo_status_to_string(status));
  }
  return bytes;
}

/// The sheet's pixels, drawn band by band as the rows are asked for in rising order.
class BandedPicture {
 public:
  BandedPicture(int width, double px_per_mm, const Drawing& drawing)
      : band_(cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, kBandRows), &cairo_surface_destroy),
        px_per_mm_(px_per_mm),
        drawing_(drawing) {}

  /// Pixels of a row as cairo keeps them, 32 bits each; nullptr where it could not be drawn.
  const unsigned char* row(int index) {
    if (index % kBandRows == 0 && !draw_band(index)) return nullptr;
    const unsigned char* pixels = cairo_image_surface_get_data(band_.get());
    return pixels + static_cast<ptrdiff_t>(index % kBandRows) * cairo_image_surface_get_stride(band_.get());
  }

 private:
  bool draw_band(int first_row) {
    const auto drawing = [&](const Canvas& canvas) {
      canvas.fill(Box{0, 0, 1e4, 1e4}, kWhite);  // beyond any sheet
      drawing_(canvas);
    };
    const bool drawn = draw_onto(band_.get(), px_per_mm_, first_row, drawing) == CAIRO_STATUS_SUCCESS;
    cairo_surface_flush(band_.get());
    return drawn;
  }

  Surface band_;
  double px_per_mm_;
  const Drawing& drawing_;
};

void append_png(png_structp png, png_bytep data, png_size_t length) {
  static_cast<std::string*>(png_get_io_ptr(png))->append(reinterpret_cast<const char*>(data), length);
}

/// Everything libpng may leave by longjmp; objects with destructors live in the caller.
bool encode(png_structp png, png_infop info, int width, int height, double dpi, BandedPicture& picture) {
  if (setjmp(png_jmpbuf(png)) != 0) return false;
  png_set_IHDR(png, info, static_cast<png_uint_32>(width), static_cast<png_uint_32>(height), 8, PNG_COLOR_TYPE_RGB,
               PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
  const auto px_per_metre = static_cast<png_uint_32>(std::lround(dpi / kMmPerInch * 1000));
  png_set_pHYs(png, info, px_per_metre, px_per_metre, PNG_RESOLUTION_METER);
  png_set_sRGB(png, info, PNG_sRGB_INTENT_RELATIVE);
  png_set_filter(png, 0, PNG_FILTER_UP);  // most rows of a sheet repeat the one above
  png_write_info(png, info);
  png_set_filler(png, 0, PNG_FILLER_AFTER);
  png_set_bgr(png);  // cairo's 0x00RRGGBB, little-endian
  for (int y = 0; y < height; ++y) {
    const unsigned char* row = picture.row(y);
    if (row == nullptr) return false;
    png_write_row(png, row);
  }
  png_write_end(png, info);
  return true;
}

Result<std::string> as_png(const SheetFile& file, const Drawing& drawing) {
  const PaperSize paper = size_of(file.paper);
  const double px_per_mm = file.dpi / kMmPerInch;
  const int width = static_cast<int>(std::lround(paper.width_mm * px_per_mm));
  const int height = static_cast<int>(std::lround(paper.height_mm * px_per_mm));
  std::string bytes;
  BandedPicture picture(width, px_per_mm, drawing);
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  if (png == nullptr || info == nullptr) return cannot_write(file.path, "no memory for a PNG");
  png_set_write_fn(png, &bytes, &append_png, nullptr);
  const bool encoded = encode(png, info, width, height, file.dpi, picture);
  png_destroy_write_struct(&png, &info);
  if (!encoded) return cannot_write(file.path, "the PNG could not be made");
  return bytes;
}

Result<Done> save(const std::filesystem::path& path, const std::string& bytes) {
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  if (!out) return cannot_write(path, std::strerror(errno));
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) return cannot_write(path, std::strerror(errno));
  return Done{};
}

}  // namespace

PaperSize size_of(Paper paper) {
  return paper == Paper::kA4 ? PaperSize{210, 297} : PaperSize{8.5 * kMmPerInch, 11 * kMmPerInch};
}

Result<Done> write_sheet(const SheetFile& file, const std::string& title, const Drawing& drawing) {
  const bool png = file.format == SheetFormat::kPng;
  if (png && !(file.dpi >= 100 && file.dpi <= 1200)) {
    return Error{Fault::kBadOption, "a picture of " + fixed(file.dpi, 0) + " dpi: between 100 and 1200 are possible",
                 file.path};
  }
  const Result<std::string> bytes = png ? as_png(file, drawing) : as_pdf(file, title, drawing);
  if (!bytes) return bytes.error();
  return save(file.path, *bytes);
}

}  // namespace glintline
