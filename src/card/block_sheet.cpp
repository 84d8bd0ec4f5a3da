#include <algorithm>
#include <array>

#include "base/text.h"
#include "card/draw.h"
#include "card/pictures.h"
#include "card/sheet_frame.h"
#include "card/sheet_writer.h"

namespace glintline {
namespace {

constexpr double kWordsMm = 58;  // the column of words and the small view, at the right
constexpr double kGapMm = 5;
constexpr double kPitchMm = 9.525;  // 3/8 in, for the looks of the drawn chain only

/// The block in true sizes and where its two views stand on the sheet. The end view is always drawn at full size.
struct BlockPlan {
  BlockEnd end;
  double length_mm = 0;
  double scale = 1;   ///< of the top view
  Point2 end_middle;  ///< end view: middle of the block's top face
  Point2 top_corner;  ///< top view: its upper left corner
};

BlockPlan plan_of(const CardLayout& card, const PlanBlock& block, const PaperSize& paper) {
  BlockPlan plan;
  plan.end.block = block;
  plan.end.width_mm = std::max((kCardRows + 2) * card.square_mm(), 60.0);  // narrower blocks tip over
  plan.length_mm = std::max((kCardColumns + 2) * card.square_mm(), 80.0);
  const double wide = paper.width_mm - 2 * kMarginMm - kWordsMm - kGapMm;
  const double middle = kMarginMm + wide / 2;
  plan.end_middle = Point2(middle, kTitleMm + 22 + block.chain_height_mm);
  const double top = plan.end_middle.y() + plan.end.base_mm + 26;
  const double tall = safety_top_mm(paper) - kGapMm - top;
  for (const double scale : {1.0, 0.5, 0.25}) {
    plan.scale = scale;
    if (plan.length_mm * scale + 12 <= wide && plan.end.width_mm * scale + 9 <= tall) break;
  }
  plan.top_corner = Point2(middle + 5 - plan.scale * plan.length_mm / 2, top);
  return plan;
}

std::string scale_name(double scale) {
  if (scale == 1) return "full size";
  return scale == 0.5 ? "half size" : "a quarter of the size";
}

void draw_heading(const Canvas& canvas, double y, const std::string& view, double scale) {
  canvas.text({kMarginMm, y}, view, {.size_mm = 4, .bold = true});
  canvas.text({kMarginMm + 34, y}, scale_name(scale), {.size_mm = 3.2, .colour = kGrey});
}

std::string mm(double value) { return fixed(value, 1) + "\u00a0mm"; }  // must not break

/// Two slanted strokes: the part is longer than drawn.
void draw_break(const Canvas& canvas, const Point2& top, double height) {
  const Point2 lean(1.5, 0);
  canvas.polygon({top + lean, top + 2 * lean, top + Point2(0, height), top + Point2(0, height) - lean}, kWhite,
                 {.width_mm = 0.1, .colour = kWhite});
  canvas.lines({top + lean, top + Point2(0, height) - lean}, {.width_mm = 0.18});
  canvas.lines({top + 2 * lean, top + Point2(0, height)}, {.width_mm = 0.18});
}

void label_end_view(const Canvas& canvas, const BlockEnd& drawn, const Point2& middle) {
  const auto at = [&](double x, double z) { return Point2(middle + Point2(x, -z)); };
  const double half = drawn.width_mm / 2;
  const double top = drawn.block.chain_height_mm;
  const TextStyle style{.size_mm = 2.9, .align = Align::kCentre};
  for (const double side : {-0.6, 0.6}) canvas.text(at(side * half, drawn.block.rail_mm() / 2 - 1), "rail", style);
  canvas.text(at(-0.6 * half, -drawn.base_mm / 2 - 1), "block", style);
  const double beside = drawn.block.slot_mm / 2 + 6;
  canvas.lines({at(3, top), at(beside + 3, top)}, {.width_mm = 0.13, .colour = kGrey});
  canvas.arrow(at(beside, top + 6), at(beside, top), {.width_mm = 0.15});
  canvas.text(at(beside + 1.2, top + 3.4), "1.5 to 3.5 over the card", {.size_mm = 2.9});
  const Point2 kerf = at(drawn.kerf_mm / 2, -0.75 * drawn.kerf_depth_mm);
  canvas.arrow(kerf + Point2(6, 5), kerf, {.width_mm = 0.15});
  canvas.text(kerf + Point2(6.5, 6.5), "kerf, " + fixed(drawn.kerf_depth_mm, 0) + " deep", {.size_mm = 2.9});
}

void draw_end_view(const Canvas& canvas, const BlockPlan& plan) {
  constexpr double kWidestDrawnMm = 90;
  BlockEnd drawn = plan.end;
  drawn.width_mm = std::min(drawn.width_mm, kWidestDrawnMm);
  const auto at = [&](double x, double z) { return Point2(plan.end_middle + Point2(x, -z)); };
  const double half = drawn.width_mm / 2;
  const double slot = drawn.block.slot_mm;
  const double rail = drawn.block.rail_mm();
  const double top = drawn.block.chain_height_mm;
  draw_heading(canvas, kTitleMm + 5, "From the end", 1);
  draw_block_end(canvas, plan.end_middle, 1, drawn);
  if (drawn.width_mm < plan.end.width_mm) {
    for (const double x : {-0.8, 0.8}) draw_break(canvas, at(x * half, rail + 1), rail + drawn.base_mm + 2);
  }
  canvas.lines({at(-3, top), at(-half, top)}, {.width_mm = 0.13, .colour = kGrey});
  canvas.dimension(at(-half, 0), at(-half, top), 6, "H " + fixed(top, 1));
  canvas.dimension(at(half, rail), at(half, 0), 6, fixed(rail, 1));
  canvas.dimension(at(half, 0), at(half, -drawn.base_mm), 6, fixed(drawn.base_mm, 0) + " or more");
  canvas.dimension(at(-slot / 2, rail), at(slot / 2, rail), 7 + top - rail, fixed(slot, 1));
  canvas.dimension(at(half, -drawn.base_mm), at(-half, -drawn.base_mm), 6, fixed(plan.end.width_mm, 0));
  label_end_view(canvas, drawn, plan.end_middle);
}

void draw_top_view(const Canvas& canvas, const BlockPlan& plan, const CardLayout& card) {
  const double s = plan.scale;
  const Point2 corner = plan.top_corner;
  const double wide = s * plan.length_mm;
  const double tall = s * plan.end.width_mm;
  const double slot = s * plan.end.block.slot_mm;
  const Point2 middle = corner + Point2(wide, tall) / 2;
  draw_heading(canvas, corner.y() - 5, "From above", s);
  canvas.polygon({corner, corner + Point2(wide, 0), corner + Point2(wide, tall), corner + Point2(0, tall)}, kDarkWood,
                 {.width_mm = 0.2});
  const double q = s * card.square_mm();
  const Box piece{middle.x() - 11.5 * q, middle.y() - 8.5 * q, 23 * q, 17 * q};
  canvas.fill(piece, kWhite);
  canvas.outline(piece, {.width_mm = 0.15, .colour = kGrey});
  draw_board_picture(canvas, Point2(piece.x + q, piece.y + q), q, BoardColours::kFaint);
  canvas.fill(Box{corner.x(), middle.y() - slot / 2, wide, slot}, kWood);
  canvas.outline({corner.x(), middle.y() - slot / 2, wide, slot}, {.width_mm = 0.2});
  canvas.lines({{corner.x(), middle.y()}, {corner.x() + wide, middle.y()}}, {.width_mm = 0.3 * s});
  draw_chain_from_above(canvas, {corner.x() - 0.2 * kPitchMm * s, middle.y()}, kPitchMm * s, wide);
  canvas.dimension({corner.x() + wide, corner.y() + tall}, {corner.x(), corner.y() + tall}, 6,
                   fixed(plan.length_mm, 0));
  canvas.dimension({corner.x(), middle.y() - slot / 2}, {corner.x(), corner.y()}, 6,
                   fixed((plan.end.width_mm - plan.end.block.slot_mm) / 2, 1));
  canvas.dimension({corner.x(), corner.y() + tall}, {corner.x(), middle.y() + slot / 2}, 6,
                   fixed((plan.end.width_mm - plan.end.block.slot_mm) / 2, 1));
}

std::array<std::string, 7> steps_of(const PlanBlock& block) {
  return {
      "Saw the kerf along the whole block: a little wider than the drive links are thick (1.1 to 1.6\u00a0mm), deeper "
      "than their tangs.",
      "Stand the chain in the kerf, side links on the wood. Measure your chain's height H, from the wood to the top "
      "plates. This sheet is drawn for H\u00a0=\u00a0" +
          mm(block.chain_height_mm) + ".",
      "Make two rails, H minus " + mm(PlanBlock::kProudMm) + " high, the card's thickness included: here " +
          mm(block.rail_mm()) + ".",
      "Fix them on the block, " + mm(block.slot_mm) + " apart. The chain must pass freely.",
      "Glue the uncut card flat on both rails, its slot marks over their inner edges. Only then cut along the marks, "
      "from end to end.",
      "Pull the chain through, taut. The top plates must stand 1.5 to 3.5\u00a0mm over the card.",
      "Measure that height too and tell the program, for example --standoff " + fixed(PlanBlock::kProudMm, 1) + ".",
  };
}

void draw_words(const Canvas& canvas, const PaperSize& paper, const PlanBlock& block) {
  const double left = paper.width_mm - kMarginMm - kWordsMm;
  draw_block_view(canvas, {left, kTitleMm, kWordsMm, 38});
  double y = kTitleMm + 48;
  int number = 0;
  for (const std::string& step : steps_of(block)) {
    canvas.circle({left + 2.4, y - 1.2}, 2.4, kBlack, {});
    canvas.text({left + 2.4, y}, std::to_string(++number),
                {.size_mm = 3.4, .bold = true, .align = Align::kCentre, .colour = kWhite});
    y += canvas.paragraph({left + 6.5, y}, step, kWordsMm - 6.5, {.size_mm = 3.2}) + 2.6;
  }
  canvas.paragraph({left, y + 2}, "All sizes in mm. Any even, hard wood will do; clamp it before you saw.", kWordsMm,
                   {.size_mm = 2.9, .colour = kGrey});
}

std::optional<Error> refusal(const CardLayout& card, const PlanBlock& block, const SheetFile& file) {
  if (!(block.chain_height_mm >= 6 && block.chain_height_mm <= 30)) {
    return Error{Fault::kBadOption,
                 "a chain height of " + mm(block.chain_height_mm) +
                     ": measure from the side links' feet up to the top plates, 6 to 30 mm",
                 file.path};
  }
  const double widest = 7 * card.square_mm();
  if (!(block.slot_mm >= 4 && block.slot_mm < widest)) {
    return Error{Fault::kBadOption,
                 "a slot of " + mm(block.slot_mm) + " in a card with squares of " + square_name(card) +
                     ": from 4 mm to less than " + mm(widest) + ", or take larger squares",
                 file.path};
  }
  return std::nullopt;
}

}  // namespace

Result<Done> draw_plan_block(const CardLayout& card, const PlanBlock& block, const SheetFile& file) {
  if (const auto refused = refusal(card, block, file)) return *refused;
  const PaperSize paper = size_of(file.paper);
  const BlockPlan plan = plan_of(card, block, paper);
  const std::string title = "Block and rails for photographs from above";
  return write_sheet(file, title, [&](const Canvas& canvas) {
    draw_title(canvas, paper, title, "for the " + kind_name(card) + " card, squares of " + square_name(card));
    draw_end_view(canvas, plan);
    draw_top_view(canvas, plan, card);
    draw_words(canvas, paper, block);
    draw_safety(canvas, paper);
  });
}

}  // namespace glintline
