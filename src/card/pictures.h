#pragma once

#include "card/canvas.h"
#include "card/draw.h"
#include "card/layout.h"

namespace glintline {

/// Small line drawings for the printed sheets: our own design, not to scale unless said. Frame: the sheet's, mm.

/// The real thing: squares, markers and field of `card`, its board frame's origin at `origin`.
void draw_board(const Canvas& canvas, const CardLayout& card, const Point2& origin, FieldPrint field);

enum class BoardColours { kFull, kFaint };

/// A board without markers, of any size, for pictures.
void draw_board_picture(const Canvas& canvas, const Point2& origin, double square_mm, BoardColours colours);

/// A marker of 36h11 with side `side_mm`.
void draw_marker(const Canvas& canvas, int id, const Point2& top_left, double side_mm);

/// Chain seen from its side, running to the right: `pairs` pairs of side links, every second one a cutter. `pitch_mm`
/// is the distance between neighbouring rivets.
void draw_chain(const Canvas& canvas, const Point2& first_rivet, double pitch_mm, int pairs);

/// Chain seen from above, running to the right from `start`; `length_mm` long.
void draw_chain_from_above(const Canvas& canvas, const Point2& start, double pitch_mm, double length_mm);

/// The plan view's block seen from its end, chain and card in place. `middle` lies on the block's top face.
struct BlockEnd {
  PlanBlock block;
  double width_mm = 85;
  double base_mm = 30;
  double kerf_mm = 2;
  double kerf_depth_mm = 10;
};
void draw_block_end(const Canvas& canvas, const Point2& middle, double scale, const BlockEnd& end);

/// Block, rails, card and chain seen at an angle.
void draw_block_view(const Canvas& canvas, const Box& box);

void draw_printer(const Canvas& canvas, const Box& box);
void draw_rulers(const Canvas& canvas, const Box& box);
void draw_scissors(const Canvas& canvas, const Point2& tip, double size_mm);
void draw_cutting_out(const Canvas& canvas, const Box& box);
void draw_chain_on_card(const Canvas& canvas, const Box& box);
void draw_phone_above(const Canvas& canvas, const Box& box);

}  // namespace glintline
