#pragma once

#include <string>

namespace glintline {

/// What tells two builds apart though they bear one version: SHA-256 over the build ids that the linker wrote into the
/// program and into every library it runs with (a hash of their contents; GNU ld, --build-id). Measuring that changed
/// changes it. Empty where the program bears none.
[[nodiscard]] const std::string& build_identity();

}  // namespace glintline
