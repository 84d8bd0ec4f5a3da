#include "base/text.h"

#include <algorithm>
#include <charconv>
#include <cmath>

namespace glintline {

std::string fixed(double value, int decimals) {
  if (!std::isfinite(value)) return "?";
  // 64 holds any double below 1e40 with the few decimals asked for; beyond that to_chars reports the lack of room.
  char buffer[64];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::fixed, decimals);
  return end.ec == std::errc{} ? std::string(buffer, end.ptr) : "?";
}

std::string rounded_up(double value, int decimals) {
  constexpr double kLetGo = 0.05;
  const double unit = std::pow(10.0, decimals);
  return fixed(std::max(1.0, std::ceil(value * unit - kLetGo)) / unit, decimals);
}

std::string counted(int count, const std::string& noun) {
  return std::to_string(count) + " " + noun + (count == 1 ? "" : "s");
}

}  // namespace glintline
