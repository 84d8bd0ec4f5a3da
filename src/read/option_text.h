#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "model/card_pose.h"
#include "model/setup.h"

namespace glintline {

/// Nominal length (mm) of the check bars that every sheet of the card carries in both directions.
inline constexpr double kNominalBarMm = 100;

/// u95 of a stand-off given without one: what a ruler beside the chain tells.
inline constexpr double kStandOffU95Mm = 0.3;

/// u95 of a check bar's length read with a ruler (proposed, no source).
inline constexpr double kBarU95Mm = 0.2;

/// What may be asked of a length, and what it is called in a complaint.
struct LengthRange {
  double least_mm;
  double most_mm;
};
inline constexpr LengthRange kPitchRange{5, 20};      ///< 1/4 in is 6.35 mm, 3/4 in is 19.05 mm
inline constexpr LengthRange kSquareRange{1, 20};     ///< what cards are drawn in (card/layout.h)
inline constexpr LengthRange kStandOffRange{-5, 60};  ///< a hair under the card up to a chain on the bar before it

/// A plain decimal number with a point, the whole of `text` but for spaces around it, whatever the locale. Fails
/// (kBadOption) on anything else, with advice for a decimal comma.
[[nodiscard]] Result<double> parse_number(std::string_view text);

/// A length in mm, "5.5" or "5.5+-0.3" ("+/-" and "±" as well; "mm" may follow). What stands behind the sign is the
/// u95 and halved to the standard uncertainty; without it `default_u95_mm` holds.
/// Fails (kBadOption) outside `range`, with advice where the number looks like inches or micrometres.
[[nodiscard]] Result<KnownLength> parse_known_length(std::string_view text, const LengthRange& range,
                                                     double default_u95_mm);

/// --standoff MM[+-MM]
[[nodiscard]] Result<KnownLength> parse_stand_off(std::string_view text);

/// --printed XxY: the check bars along X and Y as measured on the print (mm, "99.4x99.7", "+-" may follow), against
/// their nominal lengths. Fails (kBadOption) more than 10 % off, which is no printer's stretch but a wrong bar or unit.
[[nodiscard]] Result<PrintScale> parse_printed(std::string_view text,
                                               const Point2& nominal_mm = {kNominalBarMm, kNominalBarMm});

/// "100" or "100x100": nominal lengths (mm) of the bars that were measured.
[[nodiscard]] Result<Point2> parse_nominal_bars(std::string_view text);

/// --pitch MM: true pitch of the chain.
[[nodiscard]] Result<double> parse_pitch(std::string_view text);

/// --square MM: nominal side of the card's squares.
[[nodiscard]] Result<double> parse_square(std::string_view text);

/// Nothing where `value_mm` lies in `range`, else what is wrong with it and which unit it may have been given in.
[[nodiscard]] std::string complaint(double value_mm, const LengthRange& range);

}  // namespace glintline
