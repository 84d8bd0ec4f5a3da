#pragma once

#include <cstdio>
#include <string>

namespace glintline::testing {

/// A row of a table, as printf would print it, of at most 299 letters.
template <typename... Values>
std::string row(const char* format, Values... values) {
  char text[300];
  std::snprintf(text, sizeof text, format, values...);
  return text;
}

}  // namespace glintline::testing
