#pragma once

#include <string>

namespace glintline {

/// `value` with `decimals` places, "." as the point whatever the locale. NaN and infinities come out as "?".
[[nodiscard]] std::string fixed(double value, int decimals);

/// An uncertainty for reading, `decimals` places: rounded up, to one in the last place at least. Up to a twentieth of
/// that place is let go: 0.0301 reads 0.03, 0.031 reads 0.04.
[[nodiscard]] std::string rounded_up(double value, int decimals);

/// "1 cutter", "2 cutters": `count` and the noun, with an s where English wants one.
[[nodiscard]] std::string counted(int count, const std::string& noun);

}  // namespace glintline
