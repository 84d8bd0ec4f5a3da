#include <cmath>

#include "base/text.h"
#include "card/draw.h"
#include "card/pictures.h"
#include "card/sheet_frame.h"
#include "card/sheet_writer.h"

namespace glintline {
namespace {

constexpr double kGapMm = 4;
constexpr double kHowToMm = 12;  // two lines of words under the title

/// How the tags stand on the sheet. Under each square hangs a tab with the number for people's eyes.
struct TagGrid {
  NumberTagSize size;
  double tab_mm = 0;
  int columns = 0;
  int rows = 0;
  Point2 first_square;

  [[nodiscard]] Point2 square_at(int place) const {
    return first_square + Point2((size.square_mm + kGapMm) * (place % columns),
                                 (size.square_mm + tab_mm + kGapMm) * (place / columns));
  }
};

TagGrid grid_of(const CardLayout& card, const PaperSize& paper) {
  TagGrid grid;
  grid.size = card.number_tag();
  grid.tab_mm = grid.size.square_mm / 2;
  const double wide = paper.width_mm - 2 * kMarginMm;
  const double top = kTitleMm + kHowToMm;
  const double tall = safety_top_mm(paper) - kGapMm - top;
  grid.columns = static_cast<int>((wide + kGapMm) / (grid.size.square_mm + kGapMm));
  grid.rows = static_cast<int>((tall + kGapMm) / (grid.size.square_mm + grid.tab_mm + kGapMm));
  const double used = grid.columns * (grid.size.square_mm + kGapMm) - kGapMm;
  grid.first_square = Point2(kMarginMm + (wide - used) / 2, top);
  return grid;
}

void draw_tag(const Canvas& canvas, const TagGrid& grid, int number, const Point2& square) {
  const double side = grid.size.square_mm;
  const double inset = (side - grid.size.marker_mm) / 2;
  canvas.outline({square.x(), square.y(), side, side + grid.tab_mm}, {.width_mm = 0.1, .colour = kGrey});
  draw_marker(canvas, kTagIdBase + number, square + Point2(inset, inset), grid.size.marker_mm);
  canvas.text(square + Point2(side / 2, side + 0.75 * grid.tab_mm), std::to_string(number),
              {.size_mm = 0.72 * grid.tab_mm, .bold = true, .align = Align::kCentre, .widest_mm = 0.9 * side});
}

std::optional<Error> refusal(const TagGrid& grid, int first, int last, const SheetFile& file) {
  if (first < 1 || last > kLastTagNumber || first > last) {
    return Error{Fault::kBadOption,
                 "number tags " + std::to_string(first) + " to " + std::to_string(last) + ": numbers run from 1 to " +
                     std::to_string(kLastTagNumber) + ", the smaller one first",
                 file.path};
  }
  const int room = grid.columns * grid.rows;
  if (last - first + 1 > room) {
    return Error{Fault::kBadOption,
                 counted(last - first + 1, "number tag") + " on one sheet of " + name_of(file.paper) + ": it holds " +
                     std::to_string(room) + ", draw the others on a second sheet",
                 file.path};
  }
  return std::nullopt;
}

}  // namespace

Result<TagSheet> draw_number_tags(const CardLayout& card, int first, int last, const SheetFile& file) {
  const PaperSize paper = size_of(file.paper);
  const TagGrid grid = grid_of(card, paper);
  if (const auto refused = refusal(grid, first, last, file)) return *refused;

  TagSheet sheet{grid.size.marker_mm, {}};
  const double inset = (grid.size.square_mm - grid.size.marker_mm) / 2;
  for (int number = first; number <= last; ++number) {
    sheet.tags.push_back({number, grid.square_at(number - first) + Point2(inset, inset)});
  }
  const std::string title = "Number tags for the " + kind_name(card) + " card";
  const auto written = write_sheet(file, title, [&](const Canvas& canvas) {
    draw_title(canvas, paper, title, "one beside a cutter tells the program which cutter it is; print at 100 %");
    const double wide = paper.width_mm - 2 * kMarginMm;
    canvas.text({kMarginMm, kTitleMm + 2.5},
                "Cut out square and tab together. Lay the tag flat on the blue field, beside its cutter and clear of "
                "it.",
                {.size_mm = 3, .widest_mm = wide});
    canvas.text({kMarginMm, kTitleMm + 7},
                "One tag, or one paint mark on the chain, is enough: the others are counted from there.",
                {.size_mm = 3, .widest_mm = wide});
    for (int number = first; number <= last; ++number) {
      draw_tag(canvas, grid, number, grid.square_at(number - first));
    }
    draw_safety(canvas, paper);
  });
  if (!written) return written.error();
  return sheet;
}

}  // namespace glintline
