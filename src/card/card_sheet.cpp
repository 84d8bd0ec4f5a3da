#include <algorithm>
#include <cmath>

#include "base/text.h"
#include "card/draw.h"
#include "card/pictures.h"
#include "card/sheet_frame.h"
#include "card/sheet_writer.h"

namespace glintline {
namespace {

constexpr double kSideStripMm = 20;  // left of the card: the bar along Y
constexpr double kBarStripMm = 16;   // below the card: the bar along X
constexpr double kPanelMm = 39;      // one row of pictures with its words
constexpr double kTickMm = 3;        // half the length of a bar's end tick
constexpr double kBarPenMm = 0.15;

/// Where everything lies on the sheet.
struct CardPlan {
  Box piece;  ///< the card with its quiet margin: what is cut out
  Point2 board;
  Point2 x_bar;
  Point2 y_bar;
  Box panels;
};

double largest_square_mm(const PaperSize& paper) {
  const double across = (paper.width_mm - 2 * kMarginMm - kSideStripMm) / (kCardColumns + 2);
  const double down = (safety_top_mm(paper) - 4 - 2 * kPanelMm - kBarStripMm - kTitleMm) / (kCardRows + 2);
  return std::min(across, down);
}

CardPlan plan_of(const CardLayout& card, const PaperSize& paper) {
  CardPlan plan;
  const double q = card.quiet_margin_mm();
  const double wide = card.width_mm() + 2 * q;
  const double tall = card.height_mm() + 2 * q;
  const double inner = paper.width_mm - 2 * kMarginMm;
  plan.panels = {kMarginMm, safety_top_mm(paper) - 4 - 2 * kPanelMm, inner, 2 * kPanelMm};
  const double room = plan.panels.y - kBarStripMm - kTitleMm;
  const double middle = kTitleMm + room / 2;
  const double left = std::max((paper.width_mm - wide) / 2, kMarginMm + kSideStripMm);
  plan.piece = {left, middle - tall / 2, wide, tall};
  plan.board = Point2(left + q, plan.piece.y + q);
  plan.y_bar = Point2(left - 9, middle - kCheckBarMm / 2);
  const double low = middle + std::max(tall, kCheckBarMm) / 2;
  plan.x_bar = Point2((paper.width_mm - kCheckBarMm) / 2, std::min(low + 9, plan.panels.y - 6));
  return plan;
}

/// What a card of this size is for, whatever ids it carries.
std::string use_of(double square_mm) {
  if (square_mm >= 4) return "two or three cutters in one picture";
  return square_mm >= 1.5 ? "one cutter in one picture, for its cutting edge" : "a part of one cutter, very close";
}

void draw_bar(const Canvas& canvas, const Point2& from, const Point2& along) {
  const Pen pen{.width_mm = kBarPenMm};
  const Point2 to = from + kCheckBarMm * along;
  const Point2 tick = kTickMm * turned_quarter(along);
  canvas.arrow((from + to) / 2, from, pen);
  canvas.arrow((from + to) / 2, to, pen);
  const Point2 reach = tick.cwiseAbs() + kBarPenMm / 2 * along;
  for (const Point2& end : {from, to}) {
    canvas.fill(Box{end.x() - reach.x(), end.y() - reach.y(), 2 * reach.x(), 2 * reach.y()}, kBlack);
  }
}

void draw_bars(const Canvas& canvas, const CardPlan& plan) {
  const std::string nominal = fixed(kCheckBarMm, 0) + " mm between the ticks";
  const TextStyle style{.size_mm = 3.2, .align = Align::kCentre};
  draw_bar(canvas, plan.x_bar, {1, 0});
  canvas.text(plan.x_bar + Point2(kCheckBarMm / 2, -1.2), "bar X: " + nominal, style);
  draw_bar(canvas, plan.y_bar, {0, 1});
  TextStyle upright = style;
  upright.turned_deg = -90;
  canvas.text(plan.y_bar + Point2(-1.2, kCheckBarMm / 2), "bar Y: " + nominal, upright);
}

/// Marks where the plan view's slot is cut, in the outer half of the quiet margin only: nothing may touch the squares.
void draw_slot_marks(const Canvas& canvas, const CardPlan& plan, const CardLayout& card, double slot_mm) {
  if (!(slot_mm < 7 * card.square_mm())) return;
  const double reach = card.quiet_margin_mm() / 2;
  const double right = plan.piece.x + plan.piece.width;
  for (const double side : {-0.5, 0.5}) {
    const double y = plan.piece.centre().y() + side * slot_mm;
    canvas.lines({{plan.piece.x, y}, {plan.piece.x + reach, y}}, {.width_mm = 0.15});
    canvas.lines({{right - reach, y}, {right, y}}, {.width_mm = 0.15});
  }
}

void draw_card_piece(const Canvas& canvas, const CardPlan& plan, const CardLayout& card, const CardOptions& options) {
  canvas.outline(plan.piece, {.width_mm = 0.15, .colour = kGrey, .dash_mm = 1.5});
  draw_board(canvas, card, plan.board, options.field);
  draw_slot_marks(canvas, plan, card, options.slot_mm);
  const double size = std::min(2.2, 0.42 * card.quiet_margin_mm());
  canvas.text({plan.piece.centre().x(), plan.piece.y + plan.piece.height - 0.16 * card.quiet_margin_mm()},
              kind_name(card) + ", squares of " + square_name(card),
              {.size_mm = size, .align = Align::kCentre, .colour = kGrey});
  if (options.field == FieldPrint::kCutOut) {
    const Point2 middle = plan.board + (card.field_top_left_mm() + card.field_bottom_right_mm()) / 2;
    const double wide = kFieldColumns * card.square_mm() - 2;
    canvas.text(middle - Point2(0, 1), "cut out this field,",
                {.size_mm = 4, .align = Align::kCentre, .colour = kGrey, .widest_mm = wide});
    canvas.text(middle + Point2(0, 4), "put blue paper behind",
                {.size_mm = 4, .align = Align::kCentre, .colour = kGrey, .widest_mm = wide});
  }
}

struct Panel {
  std::string head;
  std::string words;
  void (*picture)(const Canvas&, const Box&);
};

void draw_plan_picture(const Canvas& canvas, const Box& box) {
  BlockEnd end;
  end.width_mm = 64;
  end.base_mm = 20;
  draw_block_end(canvas, {box.centre().x(), box.y + 11.5}, 0.62, end);
}

std::vector<Panel> panels_of(FieldPrint field) {
  const std::string cut = field == FieldPrint::kBlue ? "keep the white margin; glue on a flat board"
                                                     : "and the field; glue blue paper behind it";
  return {
      {"Print at 100 %", "actual size, never “fit to page”; matt paper", &draw_printer},
      {"Measure both bars", "and tell the program: --printed 100.3x99.8", &draw_rulers},
      {"Cut out along the dashes", cut, &draw_cutting_out},
      {"Lay the chain on its side", "taut, rivets on the card, cutters over the field", &draw_chain_on_card},
      {"Photograph straight down", "whole card in view, cutters sharp, no flash", &draw_phone_above},
      {"Or from above, on a block", "glue first, then cut the slot: see block sheet", &draw_plan_picture},
  };
}

void draw_panels(const Canvas& canvas, const Box& area, FieldPrint field) {
  const std::vector<Panel> panels = panels_of(field);
  constexpr int kColumns = 3;
  const double wide = area.width / kColumns;
  for (size_t i = 0; i < panels.size(); ++i) {
    const Point2 at(area.x + wide * static_cast<double>(i % kColumns),
                    area.y + kPanelMm * static_cast<double>(i / kColumns));
    canvas.outline({at.x() + 1, at.y() + 1, wide - 2, kPanelMm - 2}, {.width_mm = 0.2, .colour = kPale});
    canvas.circle(at + Point2(5.2, 30), 2.4, kBlack, {});
    canvas.text(at + Point2(5.2, 31.2), std::to_string(i + 1),
                {.size_mm = 3.4, .bold = true, .align = Align::kCentre, .colour = kWhite});
    canvas.text(at + Point2(9.2, 31.2), panels[i].head, {.size_mm = 3.4, .bold = true, .widest_mm = wide - 12});
    canvas.text(at + Point2(3, 35.6), panels[i].words, {.size_mm = 2.7, .widest_mm = wide - 6});
    panels[i].picture(canvas, {at.x() + wide / 2 - 28, at.y() + 2.5, 56, 23.5});
  }
}

}  // namespace

Result<CardSheet> draw_card(const CardLayout& card, const CardOptions& options, const SheetFile& file) {
  const PaperSize paper = size_of(file.paper);
  const double largest = largest_square_mm(paper);
  if (card.square_mm() > largest) {
    return Error{Fault::kBadOption,
                 "squares of " + square_name(card) + " do not fit on " + name_of(file.paper) + ": choose 1 to " +
                     fixed(std::floor(largest * 10) / 10, 1) + " mm",
                 file.path};
  }
  if (!(options.slot_mm > 0)) {
    return Error{Fault::kBadOption, "a slot of " + fixed(options.slot_mm, 1) + " mm: it must be wider than the chain",
                 file.path};
  }
  const CardPlan plan = plan_of(card, paper);
  const auto written = write_sheet(file, "Reference card, " + kind_name(card), [&](const Canvas& canvas) {
    draw_title(canvas, paper, "Reference card, " + kind_name(card),
               use_of(card.square_mm()) + "  ·  squares of " + square_name(card));
    draw_card_piece(canvas, plan, card, options);
    draw_bars(canvas, plan);
    draw_panels(canvas, plan.panels, options.field);
    draw_safety(canvas, paper);
  });
  if (!written) return written.error();
  return CardSheet{plan.board, plan.x_bar, plan.y_bar};
}

}  // namespace glintline
