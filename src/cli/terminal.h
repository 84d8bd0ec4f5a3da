#pragma once

#include <string>

#include "base/result.h"
#include "report/table.h"

namespace glintline {

/// What standard output can do: its width ($COLUMNS, the window's own or 80), UTF-8 by the locale, colour on a
/// terminal unless $NO_COLOR is set or $TERM is "dumb". Assumes that the locale was taken from the environment.
[[nodiscard]] TableStyle terminal_style();

/// Prints to standard output and flushes it. Fails: kCannotWrite (a full disk behind a redirection).
[[nodiscard]] Result<Done> print(const std::string& text);

}  // namespace glintline
