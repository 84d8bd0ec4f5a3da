#pragma once

#include <array>
#include <optional>
#include <utility>
#include <vector>

#include "base/result.h"
#include "math/geometry.h"
#include "model/card_pose.h"

namespace glintline {

/// White squares of one card, the field's included: the ids a card takes up, printed or not.
inline constexpr int kCardIds = kCardColumns * kCardRows / 2;
/// Number tags: marker 400 + n says "cutter n". The AprilTag 36h11 family ends at 586.
inline constexpr int kTagIdBase = 400;
inline constexpr int kLastTagNumber = 186;
/// Nominal length of both check bars of every sheet.
inline constexpr double kCheckBarMm = 100;
/// Modules along a marker's side, black border of one module included.
inline constexpr int kMarkerModules = 8;

enum class SquareKind {
  kBlack,
  kMarker,  ///< white, with a marker in its middle
  kField,   ///< not printed as a square: part of the field
};

/// A printed marker. Frame: board, mm.
struct CardMarker {
  int id = 0;
  int column = 0;
  int row = 0;
  std::array<Point2, 4> corners_mm;  ///< outer corners of the black border, clockwise from the marker's own top left
};

/// A crossing where four printed squares meet, black and white alternating. Frame: board, mm.
struct CardSaddle {
  int column = 0;  ///< of the grid line: 1 to kCardColumns - 1; the line's X is column * square_mm
  int row = 0;     ///< of the grid line: 1 to kCardRows - 1
  Point2 at_mm = Point2::Zero();
  bool dark_top_left = false;  ///< the squares to the top left and bottom right are the black ones
};

struct NumberTagSize {
  double marker_mm = 0;  ///< side of the marker's black border
  double square_mm = 0;  ///< side of the white square that is cut out
};

/// The reference card: a ChArUco ring round a plain field, as it is drawn and as it is looked for.
///
/// Board frame (mm, nominal): origin at the board's top-left corner, X right, Y down. 21 x 15 squares, the top-left
/// one black; markers of 0.75 squares (AprilTag 36h11) in the white squares, ids row by row as OpenCV's CharucoBoard
/// numbers them, counted on through the field. A white quiet margin of one square surrounds the board.
class CardLayout {
 public:
  /// The card at its nominal size: 5 mm squares (wide) or 2 mm (close).
  explicit CardLayout(CardKind kind);

  /// The card of `kind` with squares of `square_mm`. Fails (kBadOption) outside 1 to 20 mm: smaller markers do not
  /// survive an office printer, larger ones fit no sheet.
  [[nodiscard]] static Result<CardLayout> sized(CardKind kind, double square_mm);

  [[nodiscard]] CardKind kind() const { return kind_; }
  [[nodiscard]] double square_mm() const { return square_mm_; }
  [[nodiscard]] double marker_mm() const { return 0.75 * square_mm_; }
  [[nodiscard]] double quiet_margin_mm() const { return square_mm_; }
  [[nodiscard]] double width_mm() const { return kCardColumns * square_mm_; }
  [[nodiscard]] double height_mm() const { return kCardRows * square_mm_; }
  [[nodiscard]] Point2 field_top_left_mm() const { return grid_point(kFieldFirstColumn, kFieldFirstRow); }
  [[nodiscard]] Point2 field_bottom_right_mm() const {
    return grid_point(kFieldFirstColumn + kFieldColumns, kFieldFirstRow + kFieldRows);
  }
  [[nodiscard]] int first_id() const { return first_id_; }
  [[nodiscard]] NumberTagSize number_tag() const;

  /// Assumes 0 <= column < kCardColumns and 0 <= row < kCardRows.
  [[nodiscard]] static SquareKind square(int column, int row);

  /// Id of the white square's marker, printed or not; nothing for a black square.
  [[nodiscard]] std::optional<int> marker_id(int column, int row) const;

  /// Column and row of the square that carries `id`; nothing where the card has no printed marker of that id.
  [[nodiscard]] std::optional<std::pair<int, int>> square_of(int id) const;

  /// Crossing of the grid lines, (0, 0) at the board's origin.
  [[nodiscard]] Point2 grid_point(int column, int row) const { return {column * square_mm_, row * square_mm_}; }

  /// Outer corners of the marker in a square, clockwise from its top left.
  [[nodiscard]] std::array<Point2, 4> marker_corners(int column, int row) const;

  /// All printed markers, by rising id.
  [[nodiscard]] std::vector<CardMarker> markers() const;

  /// All crossings of four printed squares, row by row. Points on the field's rim are left out: there the field's
  /// colour stands in for one or two squares, and an edge or corner against it is no saddle.
  [[nodiscard]] std::vector<CardSaddle> saddles() const;

 private:
  CardLayout(CardKind kind, double square_mm);

  CardKind kind_;
  double square_mm_;
  int first_id_;
};

/// The card an id belongs to, whether its marker is printed or lies in the field; nothing for tags and unused ids.
[[nodiscard]] std::optional<CardKind> card_of_id(int id);

/// The number on the loose tag with marker `id`, else nothing.
[[nodiscard]] std::optional<int> tag_number(int id);

/// A marker's modules row by row from its top left, border included; true is white.
using MarkerModules = std::array<std::array<bool, kMarkerModules>, kMarkerModules>;

/// Modules of marker `id` of OpenCV's DICT_APRILTAG_36h11. Assumes 0 <= id <= 586.
[[nodiscard]] MarkerModules marker_modules(int id);

}  // namespace glintline
