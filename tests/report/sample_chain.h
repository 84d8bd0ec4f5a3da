#pragma once

#include "report/html_report.h"

namespace glintline::testing {

/// A report's content of an invented chain of 36 cutters after a stone, every part of the report filled, two cutters
/// not looked at, one with the name of a villain in it.
[[nodiscard]] ReportContent sample_report();

}  // namespace glintline::testing
