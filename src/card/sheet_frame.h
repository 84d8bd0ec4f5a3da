#pragma once

#include <string>

#include "card/canvas.h"
#include "card/draw.h"

namespace glintline {

/// What every printed sheet has in common. All lengths in mm.
inline constexpr double kMarginMm = 10;  ///< most printers leave 4 to 6 mm white (common practice, no source)
inline constexpr double kTitleMm = 28;   ///< from the sheet's top to below its title

/// Where the safety lines begin; everything else ends above.
[[nodiscard]] double safety_top_mm(const PaperSize& paper);

void draw_title(const Canvas& canvas, const PaperSize& paper, const std::string& title, const std::string& subtitle);
void draw_safety(const Canvas& canvas, const PaperSize& paper);

/// As printed and as told to the user: "A4", "wide", "2.5 mm".
[[nodiscard]] std::string name_of(Paper paper);
[[nodiscard]] std::string kind_name(const CardLayout& card);
[[nodiscard]] std::string square_name(const CardLayout& card);

}  // namespace glintline
