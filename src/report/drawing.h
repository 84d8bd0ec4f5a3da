#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "model/inspection.h"
#include "model/photo.h"

namespace glintline {

/// The annotated picture of one photograph as the bytes of a JPEG file: per measured cutter the decision in large
/// words, a close-up with everything that was measured marked, its values and the reasons; under them the whole
/// photograph reduced, the legend, a scale bar and the line of caution. A refused photograph shows its reason.
/// Touches only the photograph's pixels that are shown. Fails: kCannotWrite.
[[nodiscard]] Result<std::string> drawing_jpeg(const Photo& photo, const Inspection& inspection);

/// File names for the drawings of these photographs, in order: "NAME-marked.jpg", with "-2" and so on where two
/// photographs in different folders share a name (also where they differ in case only). None is the name of one of
/// the photographs themselves, so that drawing into their folder loses nothing.
[[nodiscard]] std::vector<std::string> drawing_names(const std::vector<std::filesystem::path>& photos);

}  // namespace glintline
