#include "card/layout.h"

#include <cassert>
#include <opencv2/aruco/dictionary.hpp>

#include "base/text.h"

namespace glintline {
namespace {

constexpr double kSmallestSquareMm = 1;
constexpr double kLargestSquareMm = 20;

double nominal_square_mm(CardKind kind) { return kind == CardKind::kWide ? 5 : 2; }

bool is_black(int column, int row) { return (column + row) % 2 == 0; }

bool in_field(int column, int row) {
  return column >= kFieldFirstColumn && column < kFieldFirstColumn + kFieldColumns && row >= kFieldFirstRow &&
         row < kFieldFirstRow + kFieldRows;
}

/// Four printed squares meet at this grid point.
bool is_saddle(int column, int row) {
  return !in_field(column - 1, row - 1) && !in_field(column, row - 1) && !in_field(column - 1, row) &&
         !in_field(column, row);
}

}  // namespace

CardLayout::CardLayout(CardKind kind) : CardLayout(kind, nominal_square_mm(kind)) {}

CardLayout::CardLayout(CardKind kind, double square_mm)
    : kind_(kind), square_mm_(square_mm), first_id_(kind == CardKind::kWide ? 0 : kCardIds) {}

Result<CardLayout> CardLayout::sized(CardKind kind, double square_mm) {
  if (!(square_mm >= kSmallestSquareMm && square_mm <= kLargestSquareMm)) {
    return Error{Fault::kBadOption,
                 "squares of " + fixed(square_mm, 2) + " mm: between " + fixed(kSmallestSquareMm, 0) + " and " +
                     fixed(kLargestSquareMm, 0) + " mm are possible (5 for the wide card, 2 for the close one)",
                 ""};
  }
  return CardLayout(kind, square_mm);
}

NumberTagSize CardLayout::number_tag() const {
  return kind_ == CardKind::kWide ? NumberTagSize{1.2 * square_mm_, 1.6 * square_mm_}
                                  : NumberTagSize{1.5 * square_mm_, 2.0 * square_mm_};
}

SquareKind CardLayout::square(int column, int row) {
  assert(column >= 0 && column < kCardColumns && row >= 0 && row < kCardRows);
  if (in_field(column, row)) return SquareKind::kField;
  return is_black(column, row) ? SquareKind::kBlack : SquareKind::kMarker;
}

std::optional<int> CardLayout::marker_id(int column, int row) const {
  if (is_black(column, row)) return std::nullopt;
  // Squares before this one in reading order, half of them white: rounds right because the first square is black.
  return first_id_ + (row * kCardColumns + column) / 2;
}

std::optional<std::pair<int, int>> CardLayout::square_of(int id) const {
  if (id < first_id_ || id >= first_id_ + kCardIds) return std::nullopt;
  const int place = 2 * (id - first_id_) + 1;  // white squares are the odd places, as the columns' count is odd
  const std::pair<int, int> found(place % kCardColumns, place / kCardColumns);
  if (in_field(found.first, found.second)) return std::nullopt;
  return found;
}

std::array<Point2, 4> CardLayout::marker_corners(int column, int row) const {
  const double inset = (square_mm_ - marker_mm()) / 2;
  const Point2 first = grid_point(column, row) + Point2(inset, inset);
  const double side = marker_mm();
  return {first, first + Point2(side, 0), first + Point2(side, side), first + Point2(0, side)};
}

std::vector<CardMarker> CardLayout::markers() const {
  std::vector<CardMarker> found;
  for (int row = 0; row < kCardRows; ++row) {
    for (int column = 0; column < kCardColumns; ++column) {
      if (square(column, row) != SquareKind::kMarker) continue;
      found.push_back({*marker_id(column, row), column, row, marker_corners(column, row)});
    }
  }
  return found;
}

std::vector<CardSaddle> CardLayout::saddles() const {
  std::vector<CardSaddle> found;
  for (int row = 1; row < kCardRows; ++row) {
    for (int column = 1; column < kCardColumns; ++column) {
      if (!is_saddle(column, row)) continue;
      found.push_back({column, row, grid_point(column, row), is_black(column - 1, row - 1)});
    }
  }
  return found;
}

std::optional<CardKind> card_of_id(int id) {
  if (id < 0 || id >= 2 * kCardIds) return std::nullopt;
  return id < kCardIds ? CardKind::kWide : CardKind::kClose;
}

std::optional<int> tag_number(int id) {
  const int number = id - kTagIdBase;
  if (number < 1 || number > kLastTagNumber) return std::nullopt;
  return number;
}

MarkerModules marker_modules(int id) {
  const auto dictionary = cv::aruco::getPredefinedDictionary(cv::aruco::DICT_APRILTAG_36h11);
  assert(id >= 0 && id < dictionary->bytesList.rows);
  cv::Mat picture;
  dictionary->drawMarker(id, kMarkerModules, picture, 1);  // one pixel a module, border of one module
  MarkerModules modules{};
  for (int row = 0; row < kMarkerModules; ++row) {
    for (int column = 0; column < kMarkerModules; ++column) modules[row][column] = picture.at<uchar>(row, column) > 127;
  }
  return modules;
}

}  // namespace glintline
