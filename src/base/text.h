#pragma once

#include <string>

namespace glintline {

/// `value` with `decimals` places, "." as the point whatever the locale. NaN and infinities come out as "?".
[[nodiscard]] std::string fixed(double value, int decimals);

/// "1 cutter", "2 cutters": `count` and the noun, with an s where English wants one.
[[nodiscard]] std::string counted(int count, const std::string& noun);

}  // namespace glintline
