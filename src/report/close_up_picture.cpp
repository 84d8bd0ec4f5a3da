#include "report/close_up_picture.h"

#include "report/close_up.h"
#include "report/jpeg.h"
#include "report/palette.h"

namespace glintline {

Result<std::string> close_up_jpeg(const Photo& photo, const Inspection& inspection, std::size_t cutter) {
  Inspection alone = inspection;
  alone.cutters = {inspection.cutters.at(cutter)};
  const std::vector<CloseUp> close_ups =
      shown_cutters(alone).empty()
          ? std::vector<CloseUp>{}
          : close_ups_of(alone, {Area{0, 0, double{kCloseUpWidth_px}, double{kCloseUpHeight_px}}});
  if (close_ups.empty()) return std::string();
  PixelCanvas canvas(kCloseUpWidth_px, kCloseUpHeight_px, kNight);
  draw_close_up(canvas, photo, close_ups.front());
  constexpr int kQuality = 82;
  return jpeg_bytes(canvas.pixels(), kQuality);
}

}  // namespace glintline
