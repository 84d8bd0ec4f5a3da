#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"
#include "model/photo_claim.h"
#include "model/stroke_count.h"

namespace glintline {

/// One row of the user's list of photographs.
struct ListedPhoto {
  std::string photo;  ///< file name, without folders
  PhotoClaim claim;
};

/// Reads a comma-separated list (RFC 4180) under a head row with the columns `photo`, `number` and, where wanted,
/// `view` (plan, profile) and `hand` (left, right), in any order; other columns are passed over. A photograph may stand
/// in several rows, one a cutter. Fails with kFileMissing, or kBadOption with file and line: no such column, no number,
/// an unknown view or hand.
[[nodiscard]] Result<std::vector<ListedPhoto>> read_cutter_list(const std::filesystem::path& path);

/// Reads counted strokes: columns `chain`, `cutter`, `strokes`, `bevel_mm`, `u_mm`, as stroke_rows writes them. A file
/// that is not there yet holds none.
/// Fails with kBadOption, with file and line.
[[nodiscard]] Result<std::vector<StrokeCount>> read_stroke_counts(const std::filesystem::path& path);

/// The file's text with the rows of `more` added to `before`.
[[nodiscard]] std::string stroke_rows(const std::vector<StrokeCount>& before, const std::vector<StrokeCount>& more);

}  // namespace glintline
