#pragma once

#include <filesystem>
#include <vector>

#include "base/result.h"
#include "card/layout.h"

namespace glintline {

enum class Paper { kA4, kLetter };

/// Portrait sheet, mm. A4: ISO 216, 210 x 297. US Letter: 8.5 x 11 in (ANSI/ASME Y14.1).
struct PaperSize {
  double width_mm = 0;
  double height_mm = 0;
};
[[nodiscard]] PaperSize size_of(Paper paper);

enum class SheetFormat { kPdf, kPng };

/// Where a sheet goes. An existing file is replaced only once the sheet is drawn.
struct SheetFile {
  std::filesystem::path path;
  Paper paper = Paper::kA4;
  SheetFormat format = SheetFormat::kPdf;
  double dpi = 600;  ///< PNG only: 100 to 1200; written into the file, so that it prints at true size
};

enum class FieldPrint {
  kBlue,    ///< sRGB (20, 70, 190)
  kCutOut,  ///< for those who print in black: an opening, to put strongly coloured paper behind
};

/// Slot for the chain in the plan view, mm: clears the rivet heads and top plates of chains up to .404 in pitch
/// (common practice, no source; the block sheet says that the chain must pass freely).
inline constexpr double kPlanSlotMm = 9;

struct CardOptions {
  FieldPrint field = FieldPrint::kBlue;
  double slot_mm = kPlanSlotMm;  ///< marked in the quiet margin where it is less than 7 squares wide, else left out
};

/// What was drawn where. Sheet frame: mm, origin at the sheet's top-left corner, X right, Y down.
struct CardSheet {
  Point2 board_origin_mm;  ///< the board frame's origin; its axes are the sheet's
  Point2 x_bar_mm;         ///< left tick of the bar along X (tick centres are kCheckBarMm apart)
  Point2 y_bar_mm;         ///< upper tick of the bar along Y
};

struct TagPlace {
  int number = 0;
  Point2 marker_mm;  ///< top-left corner of the marker's black border
};

struct TagSheet {
  double marker_mm = 0;
  std::vector<TagPlace> tags;
};

/// Block and rails that hold chain and card for photographs from above.
struct PlanBlock {
  /// From the block's top, where the side links stand, up to the top plates. The default fits common 3/8 in chain
  /// (common practice, no source): the sheet tells the user to measure.
  double chain_height_mm = 12;
  double slot_mm = kPlanSlotMm;

  /// How far the top plates shall stand over the card: the middle of the useful 1.5 to 3.5 mm.
  static constexpr double kProudMm = 2.5;
  /// Height of the rails over the block's top, the card's own thickness included.
  [[nodiscard]] double rail_mm() const { return chain_height_mm - kProudMm; }
};

/// Draws the reference card with check bars, cut lines, instructions and the safety line.
/// Fails: kBadOption (squares too large for the paper, slot, dpi), kCannotWrite.
[[nodiscard]] Result<CardSheet> draw_card(const CardLayout& card, const CardOptions& options, const SheetFile& file);

/// Draws the loose number tags `first` to `last` for this card.
/// Fails: kBadOption (numbers outside 1 to 186 or more than the sheet holds, dpi), kCannotWrite.
[[nodiscard]] Result<TagSheet> draw_number_tags(const CardLayout& card, int first, int last, const SheetFile& file);

/// Draws the plan view's block for this card, dimensioned: from the end at full size, from above at
/// 1:1, 1:2 or 1:4, whichever fits.
/// Fails: kBadOption (chain height outside 6 to 30 mm, slot outside 4 mm to 7 squares, dpi), kCannotWrite.
[[nodiscard]] Result<Done> draw_plan_block(const CardLayout& card, const PlanBlock& block, const SheetFile& file);

}  // namespace glintline
