#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include "model/inspection.h"
#include "pipeline/build_identity.h"
#include "pipeline/inspect.h"

namespace glintline {

/// Finished inspections in a folder, one file each, so that stopped work goes on where it stopped. A file is found
/// again by the photograph's bytes, the program's build, the set-up and the limits; whatever changes, it is measured
/// anew. A file that is broken, or of another form, counts as none. Safe for several threads and programs at once.
class KeptInspections {
 public:
  /// Nothing is kept or found where `folder` or `build` is empty: a build that cannot be told from others might find
  /// what another one measured.
  KeptInspections(std::filesystem::path folder, const Order& order, const std::string& build = build_identity());

  /// The inspection of this photograph, under the path it has now.
  [[nodiscard]] std::optional<Inspection> find(const std::filesystem::path& photo) const;
  /// Keeps it whole or not at all. Refusals that may not be the picture's fault (file missing, something unforeseen)
  /// are not kept. Fails: kCannotWrite.
  [[nodiscard]] Result<Done> keep(const Inspection& inspection) const;

 private:
  [[nodiscard]] std::filesystem::path place(const std::string& photo_sha256) const;

  std::filesystem::path folder_;
  std::string settings_;
};

}  // namespace glintline
