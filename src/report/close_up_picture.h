#pragma once

#include <string>

#include "base/result.h"
#include "model/inspection.h"
#include "model/photo.h"

namespace glintline {

/// Size of a close-up in the report: sharp on a phone and half a sheet wide on paper.
inline constexpr int kCloseUpWidth_px = 900;
inline constexpr int kCloseUpHeight_px = 640;

/// One cutter of a photograph as a picture of its own (see report/close_up.h); bytes of a JPEG file. `cutter` is a
/// place in inspection.cutters. Empty for a cutter without marks. Fails: kCannotWrite.
[[nodiscard]] Result<std::string> close_up_jpeg(const Photo& photo, const Inspection& inspection, std::size_t cutter);

}  // namespace glintline
