#pragma once

#include <functional>
#include <string>
#include <vector>

namespace glintline {

/// `text` as valid UTF-8 without control characters: a broken byte becomes U+FFFD, a control character a space. File
/// names may hold anything, and neither a terminal nor Cairo may meet it raw.
[[nodiscard]] std::string printable(const std::string& text);

/// `printable` text in plain ASCII: "±" becomes "+-", "°" " deg", "µ" "u"; what has no such spelling becomes "?".
[[nodiscard]] std::string ascii(const std::string& text);

/// Columns that printable UTF-8 takes on a terminal: 2 for wide East Asian characters, 0 for combining ones.
[[nodiscard]] int display_width(const std::string& text);

/// `text` filled with spaces to `width` columns, on the right or, with `right_aligned`, on the left.
[[nodiscard]] std::string padded(const std::string& text, int width, bool right_aligned = false);

/// `text` broken at spaces into lines not longer than `limit` by `measure`; a single longer word stands alone.
/// Always at least one line.
[[nodiscard]] std::vector<std::string> wrapped(const std::string& text, double limit,
                                               const std::function<double(const std::string&)>& measure);

}  // namespace glintline
