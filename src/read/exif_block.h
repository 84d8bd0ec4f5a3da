#pragma once

#include <string>

#include "model/photo.h"
#include "read/file_bytes.h"

namespace glintline {

/// The entries of an EXIF block (the TIFF structure, without JPEG's "Exif\0\0") that are of use here. Never fails: what
/// is absent, broken or senseless keeps the value it has in a new Exif, since a photograph is worth reading without it.
/// 35 mm equivalents of 0 mean "unknown" (EXIF 2.32, tag A405) and orientations outside 1 to 8 count as 1.
[[nodiscard]] Exif read_exif(Bytes block);

/// `text` up to its first NUL, as printable ASCII: anything else becomes "?", blanks at the ends go. EXIF text is ASCII
/// by its standard, and what cameras write besides must not break a report.
[[nodiscard]] std::string plain_text(const std::string& text);

}  // namespace glintline
