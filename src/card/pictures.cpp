#include "card/pictures.h"

#include <cmath>
#include <numbers>

namespace glintline {
namespace {

const Pen kThin{.width_mm = 0.18};
constexpr Colour kFaintGrey{0.8, 0.8, 0.8};
constexpr Colour kFaintBlue{0.72, 0.79, 0.95};
const Pen kHair{.width_mm = 0.12, .colour = kGrey};

/// Points given in units of `unit` about `origin`, y up.
std::vector<Point2> placed(const std::vector<Point2>& shape, const Point2& origin, double unit) {
  std::vector<Point2> points;
  points.reserve(shape.size());
  for (const Point2& p : shape) points.emplace_back(origin.x() + unit * p.x(), origin.y() - unit * p.y());
  return points;
}

// Shapes in units of the distance between two rivets, the rear rivet at the origin, y away from the bar.
const std::vector<Point2> kDriveLink = {{-0.36, 0.1}, {-0.2, 0.34}, {1.2, 0.34},  {1.36, 0.1},  {1.3, -0.3},
                                        {0.95, -0.5}, {0.62, -1.0}, {0.36, -1.0}, {0.1, -0.55}, {-0.3, -0.3}};
const std::vector<Point2> kTieLink = {{-0.3, -0.36}, {1.3, -0.36}, {1.42, -0.15}, {1.42, 0.15},
                                      {1.28, 0.4},   {-0.28, 0.4}, {-0.42, 0.15}, {-0.42, -0.15}};
const std::vector<Point2> kCutter = {
    {-0.3, -0.36}, {1.3, -0.36}, {1.44, -0.1}, {1.46, 0.5}, {1.4, 0.78},  {1.28, 0.86},  {1.14, 0.82}, {0.98, 0.42},
    {0.8, 0.3},    {0.64, 0.38}, {0.58, 0.62}, {0.68, 1.0}, {-0.36, 0.9}, {-0.42, 0.72}, {-0.34, 0.4}, {-0.44, 0.1}};
const std::vector<Point2> kTopPlate = {{0.68, 1.0}, {-0.36, 0.9}, {-0.38, 0.8}, {0.63, 0.88}};

void draw_drive_links(const Canvas& canvas, const Point2& first_rivet, double pitch_mm, int pairs) {
  for (int k = 0; k + 1 < pairs; ++k) {
    const Point2 rivet = first_rivet + Point2((2 * k + 1) * pitch_mm, 0);
    canvas.polygon(placed(kDriveLink, rivet, pitch_mm), kDarkSteel, kThin);
  }
}

void draw_side_links(const Canvas& canvas, const Point2& first_rivet, double pitch_mm, int pairs) {
  for (int k = 0; k < pairs; ++k) {
    const Point2 rivet = first_rivet + Point2(2 * k * pitch_mm, 0);
    const bool cutter = k % 2 == 1;
    canvas.polygon(placed(cutter ? kCutter : kTieLink, rivet, pitch_mm), kSteel, kThin);
    if (cutter) canvas.polygon(placed(kTopPlate, rivet, pitch_mm), kWhite, kThin);
    for (const double at : {0.0, 1.0}) {
      canvas.circle(rivet + Point2(at * pitch_mm, 0), 0.22 * pitch_mm, kWhite, kThin);
    }
  }
}

void draw_ruler(const Canvas& canvas, const Box& box, bool upright) {
  canvas.fill(box, Colour{1.0, 0.93, 0.66});
  canvas.outline(box, kThin);
  const double length = upright ? box.height : box.width;
  for (int mark = 1; mark < length / 1.5; ++mark) {
    const double at = 1.5 * mark;
    const double tall = mark % 5 == 0 ? 2.0 : 1.1;
    if (upright) {
      canvas.lines({{box.x + box.width, box.y + at}, {box.x + box.width - tall, box.y + at}}, kHair);
    } else {
      canvas.lines({{box.x + at, box.y}, {box.x + at, box.y + tall}}, kHair);
    }
  }
}

/// The bar between two ticks, as on the sheet.
void draw_small_bar(const Canvas& canvas, const Point2& a, const Point2& b) {
  const Point2 across = turned_quarter((b - a).normalized()) * 1.2;
  canvas.lines({a, b}, kThin);
  canvas.lines({a - across, a + across}, kThin);
  canvas.lines({b - across, b + across}, kThin);
}

bool beside_field(int column, int row) {
  return column >= kFieldFirstColumn - 1 && column <= kFieldFirstColumn + kFieldColumns && row >= kFieldFirstRow - 1 &&
         row <= kFieldFirstRow + kFieldRows;
}

std::vector<Box> black_squares(const Point2& origin, double square_mm, bool only_beside_field) {
  std::vector<Box> squares;
  for (int row = 0; row < kCardRows; ++row) {
    for (int column = 0; column < kCardColumns; ++column) {
      if (CardLayout::square(column, row) != SquareKind::kBlack) continue;
      if (only_beside_field && !beside_field(column, row)) continue;
      squares.push_back({origin.x() + column * square_mm, origin.y() + row * square_mm, square_mm, square_mm});
    }
  }
  return squares;
}

Box field_box(const Point2& origin, double square_mm) {
  return {origin.x() + kFieldFirstColumn * square_mm, origin.y() + kFieldFirstRow * square_mm,
          kFieldColumns * square_mm, kFieldRows * square_mm};
}

/// Colour reaches under the black squares at the field's rim, so that no white hairline shows between the two inks.
void draw_field(const Canvas& canvas, const Point2& origin, double square_mm, const Colour& colour) {
  canvas.fill(field_box(origin, square_mm), colour);
  canvas.fill(black_squares(origin, square_mm, true), colour);
}

}  // namespace

void draw_marker(const Canvas& canvas, int id, const Point2& top_left, double side_mm) {
  const MarkerModules modules = marker_modules(id);
  const double module = side_mm / kMarkerModules;
  std::vector<Box> black;
  for (int row = 0; row < kMarkerModules; ++row) {
    for (int column = 0; column < kMarkerModules;) {
      const int first = column;
      while (column < kMarkerModules && !modules[row][column]) ++column;
      if (column > first) {
        black.push_back(
            {top_left.x() + first * module, top_left.y() + row * module, (column - first) * module, module});
      }
      while (column < kMarkerModules && modules[row][column]) ++column;
    }
  }
  canvas.fill(black, kBlack);
}

void draw_board(const Canvas& canvas, const CardLayout& card, const Point2& origin, FieldPrint field) {
  const double q = card.square_mm();
  if (field == FieldPrint::kBlue) {
    draw_field(canvas, origin, q, kFieldBlue);
  } else {
    canvas.outline(field_box(origin, q), {.width_mm = 0.15, .colour = kGrey, .dash_mm = 1});
  }
  canvas.fill(black_squares(origin, q, false), kBlack);
  for (const CardMarker& marker : card.markers()) {
    draw_marker(canvas, marker.id, origin + marker.corners_mm[0], card.marker_mm());
  }
}

void draw_board_picture(const Canvas& canvas, const Point2& origin, double square_mm, BoardColours colours) {
  const bool faint = colours == BoardColours::kFaint;
  draw_field(canvas, origin, square_mm, faint ? kFaintBlue : kFieldBlue);
  canvas.fill(black_squares(origin, square_mm, false), faint ? kFaintGrey : kBlack);
}

void draw_chain(const Canvas& canvas, const Point2& first_rivet, double pitch_mm, int pairs) {
  draw_drive_links(canvas, first_rivet, pitch_mm, pairs);
  draw_side_links(canvas, first_rivet, pitch_mm, pairs);
}

void draw_chain_from_above(const Canvas& canvas, const Point2& start, double pitch_mm, double length_mm) {
  const double p = pitch_mm;
  const auto piece = [&](double x, double y, double width, double height, const Colour& colour) {
    const Box b{start.x() + p * x, start.y() + p * y, p * width, p * height};
    canvas.fill(b, colour);
    canvas.outline(b, kThin);
  };
  const int pairs = static_cast<int>((length_mm / p + 0.6) / 2);
  for (int k = 0; k < pairs; ++k) {
    const double x = 0.4 + 2 * k;
    if (k + 1 < pairs) piece(x + 0.7, -0.08, 1.6, 0.16, kDarkSteel);
    for (const double y : {-0.24, 0.08}) piece(x - 0.4, y, 1.8, 0.16, kSteel);
    if (k % 2 == 0) continue;
    const double out = k % 4 == 1 ? 1 : -1;  // hands alternate
    const auto corner = [&](double at, double across) { return Point2(start + p * Point2(x + at, out * across)); };
    canvas.polygon({corner(-0.36, -0.28), corner(-0.36, 0.3), corner(0.68, 0.36), corner(0.4, -0.28)}, kWhite, kThin);
  }
}

void draw_block_end(const Canvas& canvas, const Point2& middle, double scale, const BlockEnd& end) {
  const auto box = [&](double x, double z_top, double width, double height) {
    return Box{middle.x() + scale * x, middle.y() - scale * z_top, scale * width, scale * height};
  };
  const auto piece = [&](const Box& b, const Colour& inside) {
    canvas.fill(b, inside);
    canvas.outline(b, kThin);
  };
  const double half = end.width_mm / 2;
  const double rail = end.block.rail_mm();
  const double slot = end.block.slot_mm;
  piece(box(-half, 0, end.width_mm, end.base_mm), kWood);
  piece(box(-end.kerf_mm / 2, 0, end.kerf_mm, end.kerf_depth_mm), kWhite);
  for (const double x : {-half, slot / 2}) {
    piece(box(x, rail, half - slot / 2, rail), kDarkWood);
    canvas.fill(box(x, rail + 0.6, half - slot / 2, 0.9), kFieldBlue);
  }
  const double top = end.block.chain_height_mm;
  piece(box(-0.7, 0.66 * top, 1.4, 0.66 * top + 7), kDarkSteel);  // drive link and its tang
  for (const double x : {-2.3, 0.7}) piece(box(x, 0.66 * top, 1.6, 0.66 * top), kSteel);
  const auto point = [&](double x, double z) { return Point2(middle.x() + scale * x, middle.y() - scale * z); };
  canvas.polygon({point(2.3, 0), point(2.3, 0.6 * top), point(3.3, top), point(-3, top), point(-3, top - 1.3),
                  point(1.9, top - 1.3), point(0.7, 0.6 * top), point(0.7, 0)},
                 kSteel, kThin);
}

void draw_block_view(const Canvas& canvas, const Box& box) {
  // Cabinet projection: lengths along the chain and upwards are true, depths run up to the right at half size.
  constexpr double kLong = 44;
  constexpr double kDeep = 15;  // of block and rails together, in the projection's own direction
  const Point2 depth(0.75, -0.66);
  const Point2 front(box.x + 1, box.y + box.height - 12);  // front end of the block's top face
  const auto at = [&](double x, double deep, double up) { return Point2(front + Point2(x, -up) + deep * depth); };
  const auto solid = [&](double near, double far, double bottom, double top, const Colour& face, const Colour& upper) {
    canvas.polygon({at(0, near, bottom), at(kLong, near, bottom), at(kLong, near, top), at(0, near, top)}, face, kThin);
    canvas.polygon({at(kLong, near, bottom), at(kLong, far, bottom), at(kLong, far, top), at(kLong, near, top)},
                   kDarkWood, kThin);
    canvas.polygon({at(0, near, top), at(kLong, near, top), at(kLong, far, top), at(0, far, top)}, upper, kThin);
  };
  const auto card_half = [&](double near, double far, double field_near, double field_far) {
    canvas.polygon({at(10, field_near, 4.5), at(34, field_near, 4.5), at(34, field_far, 4.5), at(10, field_far, 4.5)},
                   kFieldBlue, {.width_mm = 0.05, .colour = kFieldBlue});
    for (int i = 0; i < 11; ++i) {
      const double x = 1 + 4 * i;
      const double a = (field_near == near) ? far - 1.2 : near;
      canvas.polygon({at(x, a, 4.5), at(x + 2, a, 4.5), at(x + 2, a + 1.2, 4.5), at(x, a + 1.2, 4.5)}, kBlack,
                     {.width_mm = 0.05});
    }
  };
  solid(0, kDeep, -11, 0, kWood, kWood);
  solid(9, kDeep, 0, 4.5, kWood, kWhite);
  card_half(9, kDeep, 9, kDeep - 2);
  canvas.lines({at(0, 7.5, 0), at(kLong, 7.5, 0)}, {.width_mm = 0.3});
  draw_chain(canvas, at(-3, 7.5, 2), 4.4, 6);
  solid(0, 6, 0, 4.5, kWood, kWhite);
  card_half(0, 6, 2, 6);
}

void draw_printer(const Canvas& canvas, const Box& box) {
  const Point2 at(box.x + 4, box.y + box.height - 1);
  const auto sheet = [&](double x, double y) { return Point2(at + Point2(x, y)); };
  canvas.polygon({sheet(4, -8), sheet(4, -22.5), sheet(22, -22.5), sheet(22, -8)}, kWhite, kThin);
  draw_board_picture(canvas, sheet(6.7, -21), 0.6, BoardColours::kFull);
  canvas.polygon({sheet(0, 0), sheet(0, -7), sheet(3, -9.5), sheet(23, -9.5), sheet(26, -7), sheet(26, 0)}, kSteel,
                 kThin);
  canvas.lines({sheet(3, -7.2), sheet(23, -7.2)}, {.width_mm = 0.9});
  canvas.circle(sheet(22.5, -3), 0.8, kWhite, kThin);
  canvas.text(sheet(30, -8.5), "100 %", {.size_mm = 8, .bold = true, .widest_mm = box.width - 34});
}

void draw_rulers(const Canvas& canvas, const Box& box) {
  const double right = box.x + box.width;
  const double bottom = box.y + box.height;
  canvas.polygon({{box.x + 6, box.y}, {right - 4, box.y}, {right - 4, bottom}, {box.x + 6, bottom}}, kWhite, kThin);
  draw_small_bar(canvas, {box.x + 18, box.y + 3}, {box.x + 18, box.y + 21});
  draw_ruler(canvas, {box.x + 11, box.y + 1, 5, box.height - 2}, true);
  draw_small_bar(canvas, {box.x + 24, box.y + 12}, {box.x + 48, box.y + 12});
  draw_ruler(canvas, {box.x + 22, box.y + 14.5, 28, 5}, false);
  canvas.text({box.x + 36, box.y + 9.5}, "100.3", {.size_mm = 3.2, .bold = true, .align = Align::kCentre});
  canvas.text({box.x + 21.6, box.y + 6}, "99.8", {.size_mm = 3.2, .bold = true});
}

void draw_scissors(const Canvas& canvas, const Point2& tip, double size_mm) {
  const auto at = [&](double x, double y) { return Point2(tip + size_mm * Point2(x, y)); };
  const Pen pen{.width_mm = 0.06 * size_mm};
  canvas.lines({at(0, -0.12), at(-1, 0.2)}, pen);
  canvas.lines({at(0, 0.12), at(-1, -0.2)}, pen);
  canvas.circle(at(-1.2, 0.3), 0.2 * size_mm, kWhite, pen);
  canvas.circle(at(-1.2, -0.3), 0.2 * size_mm, kWhite, pen);
}

void draw_cutting_out(const Canvas& canvas, const Box& box) {
  constexpr double kSquare = 1.2;
  const Point2 size(kCardColumns * kSquare, kCardRows * kSquare);
  const Point2 origin = box.centre() - size / 2;
  draw_board_picture(canvas, origin, kSquare, BoardColours::kFull);
  canvas.outline({origin.x() - 1.6, origin.y() - 1.6, size.x() + 3.2, size.y() + 3.2},
                 {.width_mm = 0.25, .dash_mm = 1.2});
  draw_scissors(canvas, origin + Point2(3, size.y() + 1.6), 4);
}

void draw_chain_on_card(const Canvas& canvas, const Box& box) {
  constexpr double kSquare = 1.4;
  const Point2 size(kCardColumns * kSquare, kCardRows * kSquare);
  const Point2 origin = box.centre() - size / 2;
  canvas.outline({origin.x() - 1.4, origin.y() - 1.4, size.x() + 2.8, size.y() + 2.8}, kThin);
  draw_board_picture(canvas, origin, kSquare, BoardColours::kFull);
  constexpr double kPitch = 3.5;
  constexpr int kPairs = 7;
  draw_chain(canvas, {box.centre().x() - (2 * kPairs - 1) * kPitch / 2, box.centre().y() + 1.5}, kPitch, kPairs);
}

void draw_phone_above(const Canvas& canvas, const Box& box) {
  const Point2 middle(box.centre().x(), box.y + box.height - 2);
  canvas.fill({middle.x() - 20, middle.y(), 40, 1.2}, kDarkWood);
  canvas.fill({middle.x() - 14, middle.y() - 0.8, 28, 0.8}, kFieldBlue);
  canvas.fill({middle.x() - 17, middle.y() - 2.3, 34, 1.5}, kDarkSteel);
  const Point2 lens(middle.x(), box.y + 3.2);
  canvas.polygon({{lens.x() - 5, lens.y() - 2.4},
                  {lens.x() + 19, lens.y() - 2.4},
                  {lens.x() + 19, lens.y() - 0.4},
                  {lens.x() - 5, lens.y() - 0.4}},
                 kPale, kThin);
  canvas.fill({lens.x() - 1.2, lens.y() - 0.4, 2.4, 0.8}, kBlack);
  const Pen sight{.width_mm = 0.15, .colour = kGrey, .dash_mm = 0.8};
  canvas.lines({lens + Point2(0, 0.6), {middle.x() - 16, middle.y() - 1}}, sight);
  canvas.lines({lens + Point2(0, 0.6), {middle.x() + 16, middle.y() - 1}}, sight);
  canvas.lines({lens + Point2(0, 0.6), {middle.x(), middle.y() - 2.4}}, {.width_mm = 0.2, .dash_mm = 1.2});
  canvas.lines({middle + Point2(0, -4.8), middle + Point2(2.4, -4.8), middle + Point2(2.4, -2.4)}, kThin);
}

}  // namespace glintline
