#include "report/text_layout.h"

#include <locale.h>

#include <cstdint>
#include <cwchar>
#include <sstream>

namespace glintline {
namespace {

constexpr char32_t kReplacement = 0xFFFD;

struct Decoded {
  char32_t code;
  std::size_t bytes;
};

/// One code point at `at`, after the table of well-formed sequences of the Unicode Standard (3.9, table 3-7): no
/// overlong forms, no surrogates. An ill-formed byte yields U+FFFD and is one byte long.
Decoded decode(const std::string& text, std::size_t at) {
  const auto byte = [&](std::size_t i) -> std::uint32_t {
    return at + i < text.size() ? static_cast<unsigned char>(text[at + i]) : 0;
  };
  const auto follows = [&](std::size_t i) { return (byte(i) & 0xC0) == 0x80; };
  const std::uint32_t lead = byte(0);
  if (lead < 0x80) return {lead, 1};
  if (lead >= 0xC2 && lead <= 0xDF && follows(1)) return {(lead & 0x1F) << 6 | (byte(1) & 0x3F), 2};
  if ((lead & 0xF0) == 0xE0 && follows(1) && follows(2)) {
    const char32_t code = (lead & 0x0F) << 12 | (byte(1) & 0x3F) << 6 | (byte(2) & 0x3F);
    if (code >= 0x800 && (code < 0xD800 || code > 0xDFFF)) return {code, 3};
  }
  if ((lead & 0xF8) == 0xF0 && follows(1) && follows(2) && follows(3)) {
    const char32_t code = (lead & 0x07) << 18 | (byte(1) & 0x3F) << 12 | (byte(2) & 0x3F) << 6 | (byte(3) & 0x3F);
    if (code >= 0x10000 && code <= 0x10FFFF) return {code, 4};
  }
  return {kReplacement, 1};
}

bool is_control(char32_t code) { return code < 0x20 || (code >= 0x7F && code < 0xA0); }

const char* ascii_spelling(char32_t code) {
  switch (code) {
    case 0x00B1:
      return "+-";
    case 0x00B0:
      return " deg";
    case 0x00B5:
    case 0x03BC:
      return "u";
    case 0x00B2:
      return "2";
    case 0x00D7:
      return "x";
    case 0x2013:
    case 0x2014:
    case 0x2212:
      return "-";
    case 0x2018:
    case 0x2019:
      return "'";
    case 0x2026:
      return "...";
    case 0x2264:
      return "<=";
    case 0x2265:
      return ">=";
    default:
      return "?";
  }
}

/// Widths come from the C library's table for C.UTF-8 (built into glibc), whatever the user's locale.
int columns_of(char32_t code) {
  static const locale_t utf8 = newlocale(LC_CTYPE_MASK, "C.UTF-8", nullptr);
  if (utf8 == nullptr) return 1;
  const locale_t before = uselocale(utf8);
  const int columns = wcwidth(static_cast<wchar_t>(code));
  uselocale(before);
  return columns < 0 ? 1 : columns;
}

}  // namespace

std::string printable(const std::string& text) {
  std::string clean;
  for (std::size_t at = 0; at < text.size();) {
    const Decoded next = decode(text, at);
    if (is_control(next.code)) {
      clean += ' ';
    } else if (next.code == kReplacement) {
      clean += "\xEF\xBF\xBD";
    } else {
      clean.append(text, at, next.bytes);
    }
    at += next.bytes;
  }
  return clean;
}

std::string ascii(const std::string& text) {
  std::string plain;
  for (std::size_t at = 0; at < text.size();) {
    const Decoded next = decode(text, at);
    if (is_control(next.code)) {
      plain += ' ';
    } else if (next.code < 0x80) {
      plain += static_cast<char>(next.code);
    } else {
      plain += ascii_spelling(next.code);
    }
    at += next.bytes;
  }
  return plain;
}

int display_width(const std::string& text) {
  int columns = 0;
  for (std::size_t at = 0; at < text.size();) {
    const Decoded next = decode(text, at);
    columns += columns_of(next.code);
    at += next.bytes;
  }
  return columns;
}

std::string padded(const std::string& text, int width, bool right_aligned) {
  const int missing = width - display_width(text);
  if (missing <= 0) return text;
  const std::string fill(static_cast<std::size_t>(missing), ' ');
  return right_aligned ? fill + text : text + fill;
}

std::vector<std::string> wrapped(const std::string& text, double limit,
                                 const std::function<double(const std::string&)>& measure) {
  std::vector<std::string> lines;
  std::string line;
  std::istringstream words(text);
  for (std::string next; words >> next;) {
    const std::string longer = line.empty() ? next : line + " " + next;
    if (!line.empty() && measure(longer) > limit) {
      lines.push_back(line);
      line = next;
    } else {
      line = longer;
    }
  }
  lines.push_back(line);
  return lines;
}

}  // namespace glintline
