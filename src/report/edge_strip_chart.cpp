#include "report/edge_strip_chart.h"

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "base/text.h"
#include "report/palette.h"

namespace glintline {
namespace {

constexpr double kLetters_px = 17;
constexpr double kMarginLeft_px = 132;
constexpr double kMarginRight_px = 14;
constexpr double kMarginTop_px = 10;
constexpr double kMarginBottom_px = 26;
constexpr double kGap_px = 10;  ///< between the two halves
/// Scales grow with what is shown, from these on.
constexpr double kLeastRadius_um = 60;
constexpr double kLeastRecession_mm = 0.15;
constexpr Rgb kChipShade{0.55, 0.20, 0.18};

struct Scales {
  double length_mm = 1;
  double radius_um = kLeastRadius_um;
  double recession_mm = kLeastRecession_mm;
};

Scales scales_of(const CutterMeasurement& cutter) {
  Scales out;
  for (const EdgeChartPoint& p : cutter.edge_chart) {
    out.length_mm = std::max(out.length_mm, p.s_mm);
    if (std::isfinite(p.radius_um)) out.radius_um = std::max(out.radius_um, 1.1 * p.radius_um);
    if (std::isfinite(p.recession_mm)) out.recession_mm = std::max(out.recession_mm, 1.1 * p.recession_mm);
  }
  for (const Chip& chip : cutter.chips) out.recession_mm = std::max(out.recession_mm, 1.2 * chip.depth_mm.value);
  return out;
}

/// One chart: where its halves lie and how values become places.
class EdgeStripChart {
 public:
  EdgeStripChart(PixelCanvas& canvas, const Area& box, const CutterMeasurement& cutter)
      : canvas_(canvas), box_(box), cutter_(cutter), scales_(scales_of(cutter)) {
    const double free = box.height - kMarginTop_px - kMarginBottom_px - kGap_px;
    upper_ = {box.x + kMarginLeft_px, box.y + kMarginTop_px, box.width - kMarginLeft_px - kMarginRight_px, free * 0.6};
    lower_ = {upper_.x, upper_.y + upper_.height + kGap_px, upper_.width, free * 0.4};
  }

  void draw() {
    canvas_.fill(box_, kNight);
    for (const Chip& chip : cutter_.chips) shade(chip);
    axes();
    radius_line();
    recession_line();
  }

 private:
  [[nodiscard]] double x(double s_mm) const {
    return upper_.x + std::clamp(s_mm / scales_.length_mm, 0.0, 1.0) * upper_.width;
  }
  [[nodiscard]] Point2 radius_at(const EdgeChartPoint& p) const {
    return {x(p.s_mm), upper_.y + upper_.height * (1 - p.radius_um / scales_.radius_um)};
  }
  [[nodiscard]] Point2 recession_at(const EdgeChartPoint& p) const {
    return {x(p.s_mm), lower_.y + lower_.height * std::clamp(p.recession_mm / scales_.recession_mm, 0.0, 1.0)};
  }

  /// Stretch of edge that a chip takes, mm.
  static std::pair<double, double> stretch_of(const Chip& chip) {
    return {chip.at_mm - chip.width_mm.value / 2, chip.at_mm + chip.width_mm.value / 2};
  }

  void shade(const Chip& chip) {
    const double from = x(stretch_of(chip).first);
    const double to = x(stretch_of(chip).second);
    canvas_.fill({from, upper_.y, std::max(2.0, to - from), lower_.y + lower_.height - upper_.y}, kChipShade, 0.7);
  }

  /// Middle of the longest stretch of edge that no chip takes.
  [[nodiscard]] double free_middle() const {
    std::vector<std::pair<double, double>> taken;
    for (const Chip& chip : cutter_.chips) taken.push_back(stretch_of(chip));
    taken.emplace_back(scales_.length_mm, scales_.length_mm);
    std::sort(taken.begin(), taken.end());
    double from = 0;
    std::pair<double, double> longest{0, 0};
    for (const auto& [first, last] : taken) {
      if (first - from > longest.second - longest.first) longest = {from, first};
      from = std::max(from, last);
    }
    return (longest.first + longest.second) / 2;
  }

  void axes() {
    const Stroke thin{kFaintInk, 1};
    const Lettering letters{kLetters_px, kPlainWhite};
    for (const double base : {upper_.y + upper_.height, lower_.y}) {
      canvas_.line({{upper_.x, base}, {upper_.x + upper_.width, base}}, thin);
    }
    const double name_x = box_.x + 8;
    canvas_.text("r, µm", {name_x, upper_.y + kLetters_px}, letters);
    canvas_.text(fixed(scales_.radius_um, 0), {upper_.x - 46, upper_.y + kLetters_px}, letters);
    canvas_.text("0", {upper_.x - 16, upper_.y + upper_.height}, letters);
    canvas_.text("back, mm", {name_x, lower_.y + lower_.height / 2}, letters);
    canvas_.text(fixed(scales_.recession_mm, 2), {upper_.x - 46, lower_.y + lower_.height}, letters);
    for (int s = 0; s <= static_cast<int>(scales_.length_mm); ++s) {
      canvas_.line({{x(s), lower_.y + lower_.height}, {x(s), lower_.y + lower_.height + 5}}, thin);
      canvas_.text_centred(s == 0 ? "corner" : fixed(s, 0) + (s == 1 ? " mm" : ""), {x(s), box_.y + box_.height - 11},
                           letters);
    }
  }

  void radius_line() {
    const EdgeChart& chart = cutter_.edge_chart;
    bool any = false;
    for (std::size_t k = 1; k < chart.size(); ++k) {
      if (!std::isfinite(chart[k - 1].radius_um) || !std::isfinite(chart[k].radius_um)) continue;
      any = true;
      canvas_.line({radius_at(chart[k - 1]), radius_at(chart[k])},
                   {colour_of_radius((chart[k - 1].radius_um + chart[k].radius_um) / 2), 3});
    }
    if (any) return;
    const std::string why = cutter_.edge_radius_limit_um
                                ? std::string("rounded by less than ") + fixed(*cutter_.edge_radius_limit_um, 0) + " µm"
                                : "rounding not measured";
    canvas_.text_centred(why, {x(free_middle()), upper_.y + upper_.height / 2}, {kLetters_px, kPlainWhite});
  }

  void recession_line() {
    const EdgeChart& chart = cutter_.edge_chart;
    for (std::size_t k = 1; k < chart.size(); ++k) {
      if (!std::isfinite(chart[k - 1].recession_mm) || !std::isfinite(chart[k].recession_mm)) continue;
      canvas_.line({recession_at(chart[k - 1]), recession_at(chart[k])}, {kPlainWhite, 2});
    }
  }

  PixelCanvas& canvas_;
  const Area box_;
  const CutterMeasurement& cutter_;
  const Scales scales_;
  Area upper_{};
  Area lower_{};
};

}  // namespace

bool has_edge_strip_chart(const CutterMeasurement& cutter) {
  const auto known = [](const EdgeChartPoint& p) {
    return std::isfinite(p.radius_um) || std::isfinite(p.recession_mm);
  };
  return std::count_if(cutter.edge_chart.begin(), cutter.edge_chart.end(), known) >= 2;
}

void draw_edge_strip_chart(PixelCanvas& canvas, const Area& box, const CutterMeasurement& cutter) {
  EdgeStripChart(canvas, box, cutter).draw();
}

}  // namespace glintline
