#pragma once

#include <string_view>

namespace glintline {

/// The HTML report's fixed parts, as they lie in report/page and in Debian's package of the chart library; built into
/// the program, because a report must not depend on where it was written.
[[nodiscard]] std::string_view page_template();
[[nodiscard]] std::string_view page_style();
[[nodiscard]] std::string_view page_script();
[[nodiscard]] std::string_view chart_library();

}  // namespace glintline
