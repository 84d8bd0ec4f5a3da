#include "read/option_text.h"

#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <utility>

namespace glintline {

namespace {

constexpr double kMmPerInch = 25.4;
constexpr double kMostStretch = 0.1;

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

std::string_view without_mm(std::string_view text) {
  text = trimmed(text);
  if (text.ends_with("mm")) text.remove_suffix(2);
  return trimmed(text);
}

/// Short and exact enough for a complaint: "0.375", "9525".
std::string shown(double value) {
  char buffer[32];
  const auto end = std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::general, 6);
  return {buffer, end.ptr};
}

Error bad(std::string what) { return {Fault::kBadOption, std::move(what), ""}; }

std::string quoted(std::string_view text) { return std::string(1, '\'').append(text).append(1, '\''); }

struct Parts {
  std::string_view before;
  std::optional<std::string_view> after;
};

/// Splits at the first of the separators that occurs.
template <std::size_t N>
Parts split(std::string_view text, const std::array<std::string_view, N>& separators) {
  for (const std::string_view separator : separators) {
    const auto at = text.find(separator);
    if (at != std::string_view::npos) return {text.substr(0, at), text.substr(at + separator.size())};
  }
  return {text, std::nullopt};
}

constexpr std::array<std::string_view, 3> kPlusMinus{"+-", "+/-", "\xC2\xB1"};
constexpr std::array<std::string_view, 3> kTimes{"x", "X", "\xC3\x97"};

/// Half of the u95 behind the sign, or of the default.
Result<double> standard_uncertainty(const std::optional<std::string_view>& text, double default_u95) {
  if (!text) return 0.5 * default_u95;
  const Result<double> u95 = parse_number(without_mm(*text));
  if (!u95) return u95;
  if (!(*u95 >= 0)) return bad("the uncertainty " + shown(*u95) + " is negative: give how far off the value may be");
  return 0.5 * *u95;
}

Result<Point2> parse_pair(std::string_view text, const char* example) {
  const Parts pair = split(text, kTimes);
  if (!pair.after) return bad(quoted(text) + " is not two lengths: write them like " + example);
  const Result<double> x = parse_number(without_mm(pair.before));
  if (!x) return x.error();
  const Result<double> y = parse_number(without_mm(*pair.after));
  if (!y) return y.error();
  return Point2(*x, *y);
}

}  // namespace

std::string complaint(double value_mm, const LengthRange& range) {
  if (value_mm >= range.least_mm && value_mm <= range.most_mm) return {};
  std::string what =
      shown(value_mm) + " mm lies outside " + shown(range.least_mm) + " to " + shown(range.most_mm) + " mm";
  const auto fits = [&](double mm) { return mm >= range.least_mm && mm <= range.most_mm; };
  if (fits(value_mm * kMmPerInch)) {
    what += ": was it inches? " + shown(value_mm) + " in is " + shown(value_mm * kMmPerInch) + " mm";
  } else if (fits(value_mm / 1000)) {
    what += ": was it micrometres? " + shown(value_mm) + " um is " + shown(value_mm / 1000) + " mm";
  } else {
    what += ": give millimetres";
  }
  return what;
}

Result<double> parse_number(std::string_view text) {
  const std::string_view body = trimmed(text);
  double value = 0;
  const auto end = std::from_chars(body.data(), body.data() + body.size(), value);
  if (end.ec == std::errc{} && end.ptr == body.data() + body.size() && std::isfinite(value)) return value;
  if (body.find(',') != std::string_view::npos)
    return bad(quoted(body) + " is not a number: write a point, not a comma");
  return bad(quoted(body) + " is not a number: write it like 5.5");
}

Result<KnownLength> parse_known_length(std::string_view text, const LengthRange& range, double default_u95_mm) {
  const Parts parts = split(text, kPlusMinus);
  const Result<double> value = parse_number(without_mm(parts.before));
  if (!value) return value.error();
  if (std::string what = complaint(*value, range); !what.empty()) return bad(std::move(what));
  const Result<double> u = standard_uncertainty(parts.after, default_u95_mm);
  if (!u) return u.error();
  return KnownLength{*value, *u};
}

Result<KnownLength> parse_stand_off(std::string_view text) {
  return parse_known_length(text, kStandOffRange, kStandOffU95Mm);
}

Result<PrintScale> parse_printed(std::string_view text, const Point2& nominal_mm) {
  const Parts parts = split(text, kPlusMinus);
  const Result<Point2> bars = parse_pair(parts.before, "99.4x99.7");
  if (!bars) return bars.error();
  const Result<double> u_mm = standard_uncertainty(parts.after, kBarU95Mm);
  if (!u_mm) return u_mm.error();
  const Point2 scale = bars->cwiseQuotient(nominal_mm);
  for (const int axis : {0, 1}) {
    if (std::abs(scale[axis] - 1) <= kMostStretch) continue;
    return bad("a printed bar of " + shown((*bars)[axis]) + " mm is not a nominal " + shown(nominal_mm[axis]) +
               " mm: measure the sheet's long check bars, in millimetres");
  }
  return PrintScale{.x = scale.x(), .y = scale.y(), .u_rel = *u_mm / nominal_mm.minCoeff(), .measured = true};
}

Result<Point2> parse_nominal_bars(std::string_view text) {
  const Result<Point2> bars = split(text, kTimes).after
                                  ? parse_pair(text, "100x100")
                                  : parse_pair(std::string(text) + "x" + std::string(text), "100x100");
  if (!bars) return bars;
  if (!(bars->minCoeff() >= 10 && bars->maxCoeff() <= 300)) {
    return bad(quoted(text) + " is no check bar's length: give 10 to 300 mm");
  }
  return bars;
}

Result<double> parse_pitch(std::string_view text) {
  const Result<double> value = parse_number(without_mm(text));
  if (!value) return value;
  if (std::string what = complaint(*value, kPitchRange); !what.empty()) return bad("pitch " + what);
  return value;
}

Result<double> parse_square(std::string_view text) {
  const Result<double> value = parse_number(without_mm(text));
  if (!value) return value;
  if (std::string what = complaint(*value, kSquareRange); !what.empty()) return bad("square " + what);
  return value;
}

}  // namespace glintline
