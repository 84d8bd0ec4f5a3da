#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>

#include "base/text.h"
#include "math/statistics.h"
#include "model/quantity.h"
#include "report/jpeg.h"
#include "report/lens_report.h"
#include "report/palette.h"
#include "report/text_layout.h"

namespace glintline {
namespace {

constexpr int kWidthPx = 1500;
constexpr double kMarginPx = 30;
constexpr double kGapPx = 40;
constexpr double kLinePx = 30;
constexpr double kBodyPx = 21;
constexpr double kTitlePx = 30;

// Eight inks that stay apart on paper (Okabe and Ito, Color Universal Design, 2008, without yellow, with grey); more
// photographs begin again.
constexpr std::array<Rgb, 8> kInks{{{0.90, 0.62, 0.00},
                                    {0.34, 0.71, 0.91},
                                    {0.00, 0.62, 0.45},
                                    {0.00, 0.45, 0.70},
                                    {0.84, 0.37, 0.00},
                                    {0.80, 0.47, 0.65},
                                    {0.40, 0.40, 0.40},
                                    {0.00, 0.00, 0.00}}};

/// The factor of 1, 2, 5, 10, ... at which the usual miss is drawn at most `wanted` pixels long.
double round_magnification(double usual_px, double wanted) {
  const double most = wanted / std::max(usual_px, 1e-6);
  const double decade = std::pow(10.0, std::floor(std::log10(most)));
  return most / decade >= 5 ? 5 * decade : most / decade >= 2 ? 2 * decade : decade;
}

class LensPage {
 public:
  explicit LensPage(const LensCalibration& lens) : lens_(lens) {
    panel_width_ = (kWidthPx - 2 * kMarginPx - kGapPx) / 2;
    const double ratio = lens.width > 0 ? static_cast<double>(lens.height) / lens.width : 0.75;
    panel_height_ = panel_width_ * ratio;
    scale_ = lens.width > 0 ? panel_width_ / lens.width : 1;
  }

  [[nodiscard]] Result<std::string> jpeg() const {
    const double list_top = kMarginPx + kTitlePx + 2 * kLinePx + panel_height_ + 2 * kLinePx;
    const double height = list_top + kLinePx * static_cast<double>(lens_.photos.size() + remarks().size() + 1);
    PixelCanvas canvas(kWidthPx, static_cast<int>(std::ceil(height + kMarginPx)), kPaper);
    draw_head(canvas);
    const double top = kMarginPx + kTitlePx + 2 * kLinePx;
    draw_coverage(canvas, {kMarginPx, top, panel_width_, panel_height_});
    draw_misses(canvas, {kMarginPx + panel_width_ + kGapPx, top, panel_width_, panel_height_});
    draw_photos(canvas, list_top);
    return jpeg_bytes(canvas.pixels());
  }

 private:
  [[nodiscard]] Rgb ink(std::size_t photo) const { return kInks[photo % kInks.size()]; }

  [[nodiscard]] Point2 place(const Area& panel, const Point2& px) const {
    return {panel.x + (px.x() + 0.5) * scale_, panel.y + (px.y() + 0.5) * scale_};
  }

  void draw_head(PixelCanvas& canvas) const {
    const std::string name = lens_.camera_name.empty() ? "Camera" : printable(lens_.camera_name);
    canvas.text(name + ": where the card's crossings fell, and by how much the model misses them",
                {kMarginPx, kMarginPx + kTitlePx}, {kTitlePx - 6, kInk, true});
    if (lens_.refusal) return;
    canvas.text("f " + fixed(lens_.camera.fx, 1) + " px ± " + fixed(100 * kCoverage * lens_.camera.u_focal_rel, 2) +
                    " %, centre " + fixed(lens_.camera.cx, 1) + ", " + fixed(lens_.camera.cy, 1) + " ± " +
                    fixed(kCoverage * lens_.camera.u_centre_px, 1) + " px (k = 2); misses " + fixed(lens_.rms_px, 2) +
                    " px rms",
                {kMarginPx, kMarginPx + kTitlePx + kLinePx}, {kBodyPx, kInk});
  }

  void draw_panel(PixelCanvas& canvas, const Area& panel, const std::string& caption) const {
    canvas.fill(panel, kPlainWhite);
    canvas.frame(panel, {kFaintInk, 1.5});
    canvas.text(caption, {panel.x, panel.y + panel.height + kLinePx - 4}, {kBodyPx, kInk});
  }

  void draw_coverage(PixelCanvas& canvas, const Area& panel) const {
    draw_panel(canvas, panel, "coverage: " + fixed(100 * lens_.covered, 0) + " % of the cells hold a crossing");
    for (int i = 1; i < kCoverageColumns; ++i) {
      const double x = panel.x + panel.width * i / kCoverageColumns;
      canvas.line({{x, panel.y}, {x, panel.y + panel.height}}, {{0.85, 0.85, 0.85}, 1});
    }
    for (int i = 1; i < kCoverageRows; ++i) {
      const double y = panel.y + panel.height * i / kCoverageRows;
      canvas.line({{panel.x, y}, {panel.x + panel.width, y}}, {{0.85, 0.85, 0.85}, 1});
    }
    for (std::size_t i = 0; i < lens_.photos.size(); ++i) {
      if (lens_.photos[i].left_out) continue;
      for (const LensMiss& m : lens_.photos[i].misses) {
        if (m.weight > 0) canvas.disc(place(panel, m.px), 2.2, ink(i));
      }
    }
  }

  void draw_misses(PixelCanvas& canvas, const Area& panel) const {
    const double magnified = round_magnification(lens_.rms_px * std::sqrt(2.0) * scale_, 22);
    draw_panel(canvas, panel, "misses, " + fixed(magnified, 0) + " times as long as they are; red: thrown out");
    canvas.clip(panel);
    for (std::size_t i = 0; i < lens_.photos.size(); ++i) {
      if (lens_.photos[i].left_out) continue;
      for (const LensMiss& m : lens_.photos[i].misses) {
        const Point2 from = place(panel, m.px);
        const bool out = m.weight <= 0;
        canvas.disc(from, 1.5, out ? Rgb{0.8, 0, 0} : ink(i));
        canvas.line({from, from + magnified * scale_ * m.miss_px}, {out ? Rgb{0.8, 0, 0} : ink(i), 1.2});
      }
    }
    canvas.unclip();
  }

  void draw_photos(PixelCanvas& canvas, double top) const {
    double y = top + kLinePx;
    const double bars = 560;
    double largest = 1e-9;
    for (const LensPhoto& photo : lens_.photos) largest = std::max(largest, photo.left_out ? 0.0 : photo.rms_px);
    for (std::size_t i = 0; i < lens_.photos.size(); ++i, y += kLinePx) {
      const LensPhoto& photo = lens_.photos[i];
      const std::string name = printable(std::filesystem::path(photo.path).filename().string());
      canvas.text(name, {kMarginPx + 28, y}, {kBodyPx, kInk});
      if (photo.left_out) {
        canvas.text("left out: " + printable(*photo.left_out), {bars, y}, {kBodyPx - 3, kFaintInk});
        continue;
      }
      canvas.disc({kMarginPx + 10, y - 7}, 8, ink(i));
      const double length = 300 * photo.rms_px / largest;
      canvas.fill({bars, y - 16, length, 18}, ink(i), 0.7);
      canvas.text(fixed(photo.rms_px, 2) + " px rms, tilt " + fixed(photo.tilt_rad * 180 / M_PI, 0) + "°",
                  {bars + length + 12, y}, {kBodyPx, kInk});
    }
    for (const std::string& remark : remarks()) {
      canvas.text(remark, {kMarginPx, y}, {kBodyPx - 1, kInk, true});
      y += kLinePx;
    }
  }

  [[nodiscard]] std::vector<std::string> remarks() const {
    std::vector<std::string> lines;
    std::vector<std::string> said = lens_.warnings;
    if (lens_.refusal) said.push_back("no camera learnt: " + lens_.refusal->what);
    for (const std::string& remark : said) {
      for (const std::string& line : wrapped(printable(remark), kWidthPx - 2 * kMarginPx, [](const std::string& part) {
             return text_width(part, {kBodyPx - 1, kInk, true});
           })) {
        lines.push_back(line);
      }
    }
    return lines;
  }

  const LensCalibration& lens_;
  double panel_width_;
  double panel_height_;
  double scale_;
};

}  // namespace

Result<std::string> lens_picture(const LensCalibration& lens) { return LensPage(lens).jpeg(); }

}  // namespace glintline
