#include "card/sheet_frame.h"

#include "base/text.h"

namespace glintline {
namespace {

constexpr double kSafetyMm = 14;

}  // namespace

double safety_top_mm(const PaperSize& paper) { return paper.height_mm - kMarginMm - kSafetyMm; }

void draw_title(const Canvas& canvas, const PaperSize& paper, const std::string& title, const std::string& subtitle) {
  const double inner = paper.width_mm - 2 * kMarginMm;
  canvas.text({kMarginMm, 18}, title, {.size_mm = 7, .bold = true, .widest_mm = inner - 30});
  canvas.text({kMarginMm, 24}, subtitle, {.size_mm = 3.6, .colour = kGrey, .widest_mm = inner});
  canvas.text({paper.width_mm - kMarginMm, 18}, "glintline", {.size_mm = 5, .align = Align::kRight, .colour = kGrey});
}

void draw_safety(const Canvas& canvas, const PaperSize& paper) {
  const Box box{kMarginMm, safety_top_mm(paper), paper.width_mm - 2 * kMarginMm, kSafetyMm};
  canvas.outline(box, {.width_mm = 0.4, .colour = kWarning});
  const Point2 sign(box.x + 3, box.y + box.height - 2.6);
  canvas.polygon({sign, sign + Point2(9.6, 0), sign + Point2(4.8, -8.4)}, Colour{1, 0.85, 0.2}, {.width_mm = 0.5});
  canvas.text(sign + Point2(4.8, -1.2), "!", {.size_mm = 6, .bold = true, .align = Align::kCentre});
  const double wide = box.width - 18;
  canvas.text({box.x + 16, box.y + 5.8},
              "Before you touch the chain: engine off, plug or battery out, gloves on, chain cold.",
              {.size_mm = 3.7, .bold = true, .widest_mm = wide});
  canvas.text({box.x + 16, box.y + 11},
              "What is measured is advice only: the chain maker's instruction, local rules and qualified people come "
              "first.",
              {.size_mm = 3.1, .widest_mm = wide});
}

std::string name_of(Paper paper) { return paper == Paper::kA4 ? "A4" : "US Letter"; }

std::string kind_name(const CardLayout& card) { return card.kind() == CardKind::kWide ? "wide" : "close"; }

std::string square_name(const CardLayout& card) {
  std::string name = fixed(card.square_mm(), 3);
  while (name.back() == '0') name.pop_back();
  if (name.back() == '.') name.pop_back();
  return name + " mm";
}

}  // namespace glintline
