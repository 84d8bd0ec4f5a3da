#include "record/json_value.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

namespace glintline {
namespace {

constexpr const char* kHexDigits = "0123456789abcdef";

int digit(char c) {
  const char* const end = kHexDigits + 16;
  const char* const at = std::find(kHexDigits, end, c);
  if (at == end) throw JsonMismatch("hexadecimal digits are wanted");
  return static_cast<int>(at - kHexDigits);
}

std::string from_hex(const std::string& hex) {
  if (hex.size() % 2 != 0) throw JsonMismatch("hexadecimal digits come in pairs");
  std::string bytes;
  for (std::size_t i = 0; i < hex.size(); i += 2) bytes += static_cast<char>(digit(hex[i]) * 16 + digit(hex[i + 1]));
  return bytes;
}

std::string to_hex(const std::string& bytes) {
  std::string hex;
  for (const unsigned char byte : bytes) {
    hex += kHexDigits[byte / 16];
    hex += kHexDigits[byte % 16];
  }
  return hex;
}

}  // namespace

bool is_utf8(const std::string& text) {
  // The library's own judgement, because it is the one that would refuse to write the text.
  try {
    (void)RecordJson(text).dump();
    return true;
  } catch (const RecordJson::type_error&) {
    return false;
  }
}

void put_text(RecordJson& json, const std::string& text) {
  if (is_utf8(text)) {
    json = text;
  } else {
    json = {{"hex", to_hex(text)}};
  }
}

void take_text(const RecordJson& json, std::string& text) {
  if (json.is_string()) {
    text = json.get<std::string>();
    return;
  }
  const auto hex = json.is_object() ? json.find("hex") : json.end();
  if (!json.is_object() || hex == json.end() || !hex->is_string()) throw JsonMismatch("text is wanted");
  text = from_hex(hex->get<std::string>());
}

void put_number(RecordJson& json, double number) {
  if (std::isnan(number)) {
    json = nullptr;
  } else if (std::isinf(number)) {
    json = number > 0 ? "inf" : "-inf";
  } else {
    json = number;
  }
}

void take_number(const RecordJson& json, double& number) {
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  if (json.is_number()) {
    number = json.get<double>();
  } else if (json.is_null()) {
    number = std::numeric_limits<double>::quiet_NaN();
  } else if (json == "inf" || json == "-inf") {
    number = json == "inf" ? kInfinity : -kInfinity;
  } else {
    throw JsonMismatch("a number is wanted");
  }
}

long long whole_number_in(const RecordJson& json, long long least, long long most) {
  // Beyond long long only unsigned numbers can be; those are too large for anything recorded.
  const bool known = json.is_number_integer() && !(json.is_number_unsigned() && json.get<std::uint64_t>() >> 63U);
  const long long number = known ? json.get<long long>() : 0;
  if (!known || number < least || number > most) {
    throw JsonMismatch("a whole number from " + std::to_string(least) + " to " + std::to_string(most) + " is wanted");
  }
  return number;
}

const RecordJson& list_in(const RecordJson& json, std::optional<std::size_t> size) {
  if (!json.is_array()) throw JsonMismatch("a list is wanted");
  if (size && json.size() != *size) throw JsonMismatch("a list of " + std::to_string(*size) + " is wanted");
  return json;
}

}  // namespace glintline
