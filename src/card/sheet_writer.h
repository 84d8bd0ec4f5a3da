#pragma once

#include <functional>
#include <string>

#include "base/result.h"
#include "card/canvas.h"
#include "card/draw.h"

namespace glintline {

using Drawing = std::function<void(const Canvas&)>;

/// Draws a sheet and writes it as PDF or PNG. The drawing may be called several times (a PNG is made in bands, so
/// that its size in memory does not depend on the resolution) and must draw the same each time.
/// Fails: kBadOption (dpi), kCannotWrite.
[[nodiscard]] Result<Done> write_sheet(const SheetFile& file, const std::string& title, const Drawing& drawing);

}  // namespace glintline
