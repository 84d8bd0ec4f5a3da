#include "report/drawing.h"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <set>

#include "base/text.h"
#include "report/close_up.h"
#include "report/jpeg.h"
#include "report/palette.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

constexpr int kWidth_px = 1600;
constexpr double kMargin_px = 28;
constexpr std::size_t kColumns = 3;
constexpr double kBody_px = 25;
constexpr double kLine_px = 33;
constexpr double kTitle_px = 32;
constexpr double kBanner_px = 104;
constexpr double kVerdict_px = 70;
constexpr double kBadge_px = 36;
constexpr int kOverviewWidth_px = 500;
constexpr int kOverviewHeight_px = 400;
constexpr std::size_t kMostLines = 7;

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

std::vector<std::string> wrapped_px(const std::string& text, double width, const Lettering& style) {
  return wrapped(text, width, [&](const std::string& part) { return text_width(part, style); });
}

/// The largest size up to `style.size_px` at which the text is no wider than `width`.
Lettering fitted(const std::string& text, double width, Lettering style) {
  const double natural = text_width(text, style);
  if (natural > width) style.size_px *= width / natural;
  return style;
}

/// "drop 0.58 ± 0.03 mm", ...: the values of one cutter, each kept on one line by no-break spaces.
std::vector<std::string> values_of(const CutterMeasurement& m) {
  std::vector<std::string> values;
  const auto add = [&](const char* name, const std::optional<Quantity>& q, int decimals, const char* unit) {
    if (q) values.push_back(std::string(name) + " " + with_u95(*q, decimals, " ± ") + unit);
  };
  const auto add_angle = [&](const char* name, const std::optional<Quantity>& q) {
    if (q) add(name, in_degrees(*q), 1, "°");
  };
  add("drop", m.gauge_drop_mm, 2, " mm");
  add("length", m.length_mm, 2, " mm");
  add_angle("edge angle", m.edge_angle_rad);
  add("edge radius", m.edge_radius_um, 0, " µm");
  if (!m.edge_radius_um && m.edge_radius_limit_um) {
    values.push_back("edge radius under " + fixed(*m.edge_radius_limit_um, 0) + " µm");
  }
  if (m.chips_searched) {
    double deepest = 0;
    for (const Chip& chip : m.chips) deepest = std::max(deepest, chip.depth_mm.value);
    values.push_back(m.chips.empty() ? "no chips"
                                     : counted(static_cast<int>(m.chips.size()), "chip") + ", deepest " +
                                           fixed(deepest, 2) + " mm");
  }
  add_angle("top slope", m.top_slope_rad);
  add_angle("hook angle", m.hook_angle_rad);
  for (std::string& value : values) {
    for (std::size_t at = value.find(' '); at != std::string::npos; at = value.find(' ', at + 2)) {
      value.replace(at, 1, "\xC2\xA0");
    }
  }
  return values;
}

struct TextLine {
  std::string text;
  bool bold;
};

/// Values, then reasons, as lines of at most `width` pixels; cut off with "..." after kMostLines.
std::vector<TextLine> lines_under(const InspectedCutter& cutter, double width) {
  std::vector<TextLine> lines;
  std::string values;
  for (const std::string& value : values_of(cutter.measured)) values += (values.empty() ? "" : " · ") + value;
  const auto add = [&](const std::string& text, bool bold) {
    const Lettering style{kBody_px, kInk, bold};
    for (const std::string& part : wrapped_px(text, width, style)) lines.push_back({part, bold});
  };
  if (!values.empty()) add(values, true);
  for (const std::string& reason : main_reasons_of(cutter)) add(with_sign(reason), false);
  if (lines.size() > kMostLines) {
    lines.resize(kMostLines);
    lines.back().text += " …";
  }
  return lines;
}

std::string joined(const std::vector<std::string>& parts) {
  std::string all;
  for (const std::string& part : parts) all += (all.empty() ? "" : "; ") + part;
  return all;
}

/// What stands beside the file's name.
std::string about(const Inspection& inspection) {
  if (!inspection.card) return "";
  std::string text = std::string(word(inspection.view)) + ", " + scale_words(*inspection.card);
  if (inspection.mm_per_px > 0) text += ", " + fixed(1000 * inspection.mm_per_px, 1) + " µm per pixel";
  if (inspection.card->saddles > 0) text += ", tilt " + fixed(inspection.card->tilt_rad * 180 / M_PI, 1) + "°";
  if (inspection.pitch_mm) text += ", pitch " + with_u95(*inspection.pitch_mm, 2, " ± ") + " mm";
  return text;
}

/// What is said in words under the close-ups: cutters that have none, and notes on the whole picture.
std::vector<std::string> remarks_of(const Inspection& inspection) {
  const std::vector<const InspectedCutter*> shown = shown_cutters(inspection);
  std::vector<std::string> remarks;
  for (const InspectedCutter& cutter : inspection.cutters) {
    if (std::ranges::find(shown, &cutter) != shown.end()) continue;
    std::string text = "cutter " + label_of(inspection, cutter);
    const std::string why = joined(cutter.measured.over_field ? cutter.measured.missing : reasons_of(cutter));
    if (!why.starts_with("not measured")) text += " not measured";
    remarks.push_back(why.empty() ? text : text + ": " + why);
  }
  for (const std::string& note : inspection.notes) remarks.push_back(note);
  return remarks;
}

/// The page, laid out from top to bottom before anything is drawn, because the canvas needs its height.
class Page {
 public:
  Page(const Photo& photo, const Inspection& inspection) : photo_(photo), inspection_(inspection) {
    shown_ = shown_cutters(inspection);
    double y = kMargin_px + kTitle_px + 26;
    y = shown_.empty() ? lay_out_whole(y) : lay_out_cutters(y);
    const Lettering body{kBody_px, kInk};
    for (const std::string& remark : remarks_of(inspection)) {
      for (const std::string& line : wrapped_px(with_sign(remark), kWidth_px - 2 * kMargin_px, body)) {
        remark_lines_.push_back(line);
      }
    }
    remarks_y_ = y;
    y += kLine_px * static_cast<double>(remark_lines_.size()) + (remark_lines_.empty() ? 0 : 12);
    footer_y_ = y;
    if (!shown_.empty()) y += footer_height() + 16;
    advice_y_ = y;
    height_ = static_cast<int>(std::ceil(y + kLine_px + kMargin_px / 2));
  }

  [[nodiscard]] Result<std::string> jpeg() const {
    PixelCanvas canvas(kWidth_px, height_, kPaper);
    draw_title(canvas);
    if (shown_.empty()) {
      draw_whole(canvas);
    } else {
      draw_cutters(canvas);
      draw_footer(canvas);
    }
    for (std::size_t i = 0; i < remark_lines_.size(); ++i) {
      canvas.text(remark_lines_[i], {kMargin_px, remarks_y_ + kLine_px * (static_cast<double>(i) + 0.75)},
                  {kBody_px, kInk});
    }
    const Lettering advice = fitted(kAdviceLine, kWidth_px - 2 * kMargin_px, {22, kFaintInk});
    canvas.text(kAdviceLine, {kMargin_px, advice_y_ + 24}, advice);
    return jpeg_bytes(canvas.pixels());
  }

 private:
  struct Column {
    Area banner;
    Area close_up;
    std::vector<TextLine> lines;
  };

  // ---- layout

  double lay_out_cutters(double y) {
    const std::size_t across = std::min(shown_.size(), kColumns);
    const double width = (kWidth_px - kMargin_px * (static_cast<double>(across) + 1)) / static_cast<double>(across);
    const double height = std::floor(std::min(width * 0.80, 820.0));
    for (std::size_t first = 0; first < shown_.size(); first += across) {
      std::size_t lines = 0;
      for (std::size_t i = first; i < std::min(first + across, shown_.size()); ++i) {
        const double x = std::floor(kMargin_px + (width + kMargin_px) * static_cast<double>(i - first));
        Column column{{x, y, std::floor(width), kBanner_px},
                      {x, std::floor(y + kBanner_px), std::floor(width), height},
                      lines_under(*shown_[i], width)};
        lines = std::max(lines, column.lines.size());
        columns_.push_back(std::move(column));
      }
      y = std::floor(y + kBanner_px + height + 14 + kLine_px * static_cast<double>(lines) + 20);
    }
    std::vector<Area> places;
    for (const Column& column : columns_) places.push_back(column.close_up);
    close_ups_ = close_ups_of(inspection_, places);
    return y;
  }

  [[nodiscard]] std::string why_nothing_was_measured() const {
    if (inspection_.refusal) return inspection_.refusal->what;
    for (const InspectedCutter& cutter : inspection_.cutters) {
      if (!cutter.measured.missing.empty()) return cutter.measured.missing.front();
    }
    return "no cutter lies over the plain field";
  }

  double lay_out_whole(double y) {
    const double width = kWidth_px - 2 * kMargin_px;
    const std::string reason = why_nothing_was_measured();
    const Lettering style{36, kPlainWhite, true};
    reason_lines_ = wrapped_px(with_sign(reason), width - 48, style);
    banner_ = {kMargin_px, y, width, kBanner_px + 48 * static_cast<double>(reason_lines_.size())};
    const cv::Size photo = photo_.bgr.size();
    const double scale = std::min(width / std::max(1, photo.width), 1000.0 / std::max(1, photo.height));
    const double shown_width = std::max(1.0, std::floor(photo.width * scale));
    whole_ = {std::floor((kWidth_px - shown_width) / 2), std::floor(banner_.y + banner_.height), shown_width,
              std::max(1.0, std::floor(photo.height * scale))};
    return whole_.y + whole_.height + 20;
  }

  [[nodiscard]] cv::Size overview_size() const {
    const double scale = std::min({static_cast<double>(kOverviewWidth_px) / std::max(1, photo_.bgr.cols),
                                   static_cast<double>(kOverviewHeight_px) / std::max(1, photo_.bgr.rows), 1.0});
    return {std::max(1, static_cast<int>(photo_.bgr.cols * scale)),
            std::max(1, static_cast<int>(photo_.bgr.rows * scale))};
  }

  [[nodiscard]] double footer_height() const {
    const double legend = kLine_px * std::ceil(static_cast<double>(roles().size()) / 2) + 110;
    return std::max<double>(overview_size().height, legend);
  }

  [[nodiscard]] std::set<MarkRole> roles() const {
    std::set<MarkRole> used;
    for (const InspectedCutter* cutter : shown_) {
      for (const Mark& mark : cutter->measured.marks) used.insert(mark.role);
    }
    return used;
  }

  // ---- drawing

  void draw_title(PixelCanvas& canvas) const {
    const std::string beside = about(inspection_);
    const Lettering faint{24, kFaintInk};
    const double beside_width = beside.empty() ? 0 : text_width(beside, faint) + 30;
    const std::string name = fs::path(inspection_.photo_path).filename().string();
    const Lettering title = fitted(name, kWidth_px - 2 * kMargin_px - beside_width, {kTitle_px, kInk, true});
    const double baseline = kMargin_px + kTitle_px - 4;
    canvas.text(name, {kMargin_px, baseline}, title);
    if (!beside.empty()) canvas.text(beside, {kWidth_px - kMargin_px - beside_width + 30, baseline}, faint);
  }

  void draw_cutters(PixelCanvas& canvas) const {
    for (std::size_t i = 0; i < columns_.size(); ++i) {
      draw_banner(canvas, columns_[i].banner, *shown_[i]);
      draw_close_up(canvas, photo_, close_ups_[i]);
      const Area& picture = columns_[i].close_up;
      double y = picture.y + picture.height + 14;
      for (const TextLine& line : columns_[i].lines) {
        canvas.text(line.text, {picture.x, y + kLine_px * 0.75}, {kBody_px, kInk, line.bold});
        y += kLine_px;
      }
    }
  }

  void draw_banner(PixelCanvas& canvas, const Area& area, const InspectedCutter& cutter) const {
    const Banner look = banner_of(cutter);
    canvas.fill(area, look.ground);
    const double middle = area.y + area.height / 2;
    draw_badge(canvas, {area.x + 14 + kBadge_px, middle}, kBadge_px, label_of(inspection_, cutter));
    const double left = area.x + 2 * kBadge_px + 32;
    double right = area.x + area.width - 18;
    if (cutter.measured.hand) {
      const std::string hand = std::string(word(*cutter.measured.hand)) + " hand";
      const Lettering style{26, look.ink};
      right -= text_width(hand, style);
      canvas.text(hand, {right, middle + 9}, style);
      right -= 18;
    }
    const std::string verdict = upper(verdict_word(cutter));
    const Lettering style = fitted(verdict, right - left, {kVerdict_px, look.ink, true});
    canvas.text(verdict, {left, middle + style.size_px * 0.36}, style);
  }

  static void draw_badge(PixelCanvas& canvas, const Point2& centre, double radius, const std::string& text) {
    canvas.disc(centre, radius + 3, kNight);
    canvas.disc(centre, radius, kPlainWhite);
    canvas.text_centred(text, centre, fitted(text, 1.5 * radius, {1.15 * radius, kInk, true}));
  }

  void draw_whole(PixelCanvas& canvas) const {
    canvas.fill(banner_, {0.30, 0.35, 0.42});
    canvas.text("NOT MEASURED", {banner_.x + 24, banner_.y + 78}, {kVerdict_px, kPlainWhite, true});
    for (std::size_t i = 0; i < reason_lines_.size(); ++i) {
      canvas.text(reason_lines_[i], {banner_.x + 24, banner_.y + kBanner_px + 48 * static_cast<double>(i) + 30},
                  {36, kPlainWhite, true});
    }
    draw_photo(canvas, whole_, 26);
  }

  /// The whole photograph, reduced, with a badge beside each cutter's working corner.
  void draw_photo(PixelCanvas& canvas, const Area& area, double badge) const {
    if (photo_.bgr.empty()) return;
    cv::Mat reduced;
    cv::resize(photo_.bgr, reduced, cv::Size(static_cast<int>(area.width), static_cast<int>(area.height)), 0, 0,
               cv::INTER_AREA);
    canvas.picture(reduced, static_cast<int>(area.x), static_cast<int>(area.y));
    const double scale = area.width / photo_.bgr.cols;
    canvas.clip(area);
    for (const InspectedCutter& cutter : inspection_.cutters) {
      const Point2 corner = Point2(area.x, area.y) + scale * (cutter.measured.corner_px + Point2(0.5, 0.5));
      const Point2 inside(std::clamp(corner.x(), area.x + badge + 4, area.x + area.width - badge - 4),
                          std::clamp(corner.y() - 2.6 * badge, area.y + badge + 4, area.y + area.height - badge - 4));
      canvas.line_with_halo({inside, corner}, {kPlainWhite, 2});
      draw_badge(canvas, inside, badge, label_of(inspection_, cutter));
    }
    canvas.unclip();
  }

  void draw_footer(PixelCanvas& canvas) const {
    const cv::Size overview = overview_size();
    draw_photo(canvas,
               {kMargin_px, footer_y_, static_cast<double>(overview.width), static_cast<double>(overview.height)}, 17);
    const double left = kMargin_px + overview.width + 36;
    draw_legend(canvas, left, footer_y_ + draw_scale_bar(canvas, left, footer_y_));
  }

  /// Returns the height taken.
  double draw_scale_bar(PixelCanvas& canvas, double left, double top) const {
    const double per_px = std::sqrt(std::abs(close_ups_.front().canvas_from_photo.turn_and_scale.determinant()));
    const double px_per_mm = inspection_.mm_per_px > 0 ? per_px / inspection_.mm_per_px : 0;
    if (px_per_mm < 4) return 0;
    const double length_mm = px_per_mm * 5 < 420 ? 5 : px_per_mm * 2 < 420 ? 2 : 1;
    const double right = left + length_mm * px_per_mm;
    constexpr double kBarHeight = 14;
    const double y = top + 14;
    canvas.fill({left, y, right - left, kBarHeight}, kInk);
    for (int i = 0; i < static_cast<int>(length_mm); i += 2) {
      canvas.fill({left + i * px_per_mm + 2, y + 3, px_per_mm - 4, kBarHeight - 6}, kPlainWhite);
    }
    const std::string caption = fixed(length_mm, 0) + " mm in the close-ups, at the working corner";
    canvas.text(caption, {right + 18, y + kBarHeight},
                fitted(caption, kWidth_px - kMargin_px - right - 18, {kBody_px, kInk}));
    return 62;
  }

  void draw_legend(PixelCanvas& canvas, double left, double top) const {
    const std::set<MarkRole> used = roles();
    const double column = (kWidth_px - kMargin_px - left) / 2;
    const auto rows = static_cast<std::size_t>(std::ceil(static_cast<double>(used.size()) / 2));
    canvas.fill({left - 12, top - 6, 2 * column + 12, kLine_px * static_cast<double>(rows) + 14}, kNight);
    std::size_t i = 0;
    for (const MarkRole role : used) {
      const double x = left + column * static_cast<double>(i / rows);
      const double y = top + kLine_px * (static_cast<double>(i % rows) + 0.5);
      draw_sample(canvas, role, {x, y});
      canvas.text(legend_of(role), {x + 62, y + 8}, fitted(legend_of(role), column - 70, {23, kPlainWhite}));
      ++i;
    }
  }

  static void draw_sample(PixelCanvas& canvas, MarkRole role, const Point2& at) {
    const Stroke stroke = stroke_of(role);
    const Point2 middle = at + Point2(24, 0);
    if (role == MarkRole::kCorner || role == MarkRole::kRivet) return canvas.ring(middle, 9, stroke);
    canvas.line({at, at + Point2(48, 0)}, stroke);
    if (role == MarkRole::kLength) {
      canvas.arrow_head(at, {-1, 0}, 13, stroke.colour);
      canvas.arrow_head(at + Point2(48, 0), {1, 0}, 13, stroke.colour);
    }
  }

  const Photo& photo_;
  const Inspection& inspection_;
  std::vector<const InspectedCutter*> shown_;
  std::vector<Column> columns_;
  std::vector<CloseUp> close_ups_;
  std::vector<std::string> reason_lines_;
  std::vector<std::string> remark_lines_;
  Area banner_{};
  Area whole_{};
  double remarks_y_ = 0;
  double footer_y_ = 0;
  double advice_y_ = 0;
  int height_ = 0;
};

std::string lower(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

}  // namespace

Result<std::string> drawing_jpeg(const Photo& photo, const Inspection& inspection) {
  return Page(photo, inspection).jpeg();
}

std::vector<std::string> drawing_names(const std::vector<fs::path>& photos) {
  std::set<std::string> taken;
  for (const fs::path& photo : photos) taken.insert(lower(photo.filename().string()));
  std::vector<std::string> names;
  for (const fs::path& photo : photos) {
    std::string stem = photo.stem().string();
    if (stem.empty()) stem = "photograph";
    std::string name = stem + "-marked.jpg";
    for (int i = 2; !taken.insert(lower(name)).second; ++i) name = stem + "-marked-" + std::to_string(i) + ".jpg";
    names.push_back(name);
  }
  return names;
}

}  // namespace glintline
