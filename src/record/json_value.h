#pragma once

#include <Eigen/Core>
#include <array>
#include <concepts>
#include <cstddef>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

namespace glintline {

// How values become JSON and come back exactly. Each struct lists its fields once (`each_field`, record/fields.h), for
// both directions. Doubles are written with as many digits as bring the same double back; NaN is null, infinities are
// "inf" and "-inf"; an absent optional leaves its field out; a string that is no UTF-8 (a path may be) is
// {"hex": "..."}. On reading, a field that is not there keeps its default, so that documents from before it still read.

using RecordJson = nlohmann::ordered_json;

/// JSON that is not what was looked for. Never leaves this room: it becomes an Error at its doors.
struct JsonMismatch : std::runtime_error {
  using std::runtime_error::runtime_error;
};

/// T, const or not.
template <typename T, typename U>
concept like = std::same_as<std::remove_const_t<T>, U>;

/// An enumerator and the word it is recorded by.
template <typename Enum>
using EnumName = std::pair<Enum, const char*>;

/// Whether both databases and JSON hold the text as it is.
[[nodiscard]] bool is_utf8(const std::string& text);
void put_text(RecordJson& json, const std::string& text);
void take_text(const RecordJson& json, std::string& text);
void put_number(RecordJson& json, double number);
void take_number(const RecordJson& json, double& number);
[[nodiscard]] long long whole_number_in(const RecordJson& json, long long least, long long most);
/// The array itself, of any length or of `size`.
[[nodiscard]] const RecordJson& list_in(const RecordJson& json, std::optional<std::size_t> size = std::nullopt);

template <typename T>
void put(RecordJson& json, const T& value);
template <typename T>
void take(const RecordJson& json, T& value);

namespace json_value {

template <typename T>
struct IsOptional : std::false_type {};
template <typename T>
struct IsOptional<std::optional<T>> : std::true_type {};
template <typename T>
struct IsVector : std::false_type {};
template <typename T>
struct IsVector<std::vector<T>> : std::true_type {};
template <typename T>
struct IsArray : std::false_type {};
template <typename T, std::size_t N>
struct IsArray<std::array<T, N>> : std::true_type {};
template <typename T>
concept Matrix = std::derived_from<T, Eigen::MatrixBase<T>>;

}  // namespace json_value

/// Visitor of `each_field` that writes: takes name and value in turn.
struct FieldWriter {
  RecordJson& json;

  void operator()() const {}
  template <typename T, typename... Rest>
  void operator()(const char* name, const T& value, const Rest&... rest) const {
    if constexpr (json_value::IsOptional<T>::value) {
      if (value) put(json[name], *value);
    } else {
      put(json[name], value);
    }
    (*this)(rest...);
  }
};

/// Visitor of `each_field` that reads.
struct FieldReader {
  const RecordJson& json;

  void operator()() const {}
  template <typename T, typename... Rest>
  void operator()(const char* name, T& value, Rest&... rest) const {
    const auto field = json.find(name);
    if (field != json.end()) read(name, *field, value);
    (*this)(rest...);
  }

 private:
  template <typename T>
  static void read(const char* name, const RecordJson& field, T& value) {
    try {
      take(field, value);
    } catch (const JsonMismatch& mismatch) {
      throw JsonMismatch(std::string(name) + ": " + mismatch.what());
    }
  }
};

/// Finds the recorded word of an enumerator; `names_of(Enum)` gives the list.
template <typename Enum>
[[nodiscard]] const char* name_of(Enum value) {
  for (const EnumName<Enum>& name : names_of(value)) {
    if (name.first == value) return name.second;
  }
  throw JsonMismatch("an enumerator without a name");
}

template <typename Enum>
[[nodiscard]] Enum named(const std::string& word) {
  for (const EnumName<Enum>& name : names_of(Enum{})) {
    if (word == name.second) return name.first;
  }
  throw JsonMismatch("unknown word '" + word + "'");
}

template <typename T>
void put(RecordJson& json, const T& value) {
  if constexpr (std::is_enum_v<T>) {
    json = name_of(value);
  } else if constexpr (std::is_same_v<T, std::string>) {
    put_text(json, value);
  } else if constexpr (std::is_floating_point_v<T>) {
    put_number(json, value);
  } else if constexpr (std::is_arithmetic_v<T>) {
    json = value;
  } else if constexpr (json_value::Matrix<T>) {
    json = RecordJson::array();
    for (Eigen::Index i = 0; i < value.size(); ++i) put(json.emplace_back(), value(i / value.cols(), i % value.cols()));
  } else if constexpr (json_value::IsVector<T>::value || json_value::IsArray<T>::value) {
    json = RecordJson::array();
    for (const auto& element : value) put(json.emplace_back(), element);
  } else {
    json = RecordJson::object();
    each_field(FieldWriter{json}, value);
  }
}

template <typename T>
void take_each(const RecordJson& json, T& value) {
  for (std::size_t i = 0; i < value.size(); ++i) {
    try {
      take(json[i], value[i]);
    } catch (const JsonMismatch& mismatch) {
      throw JsonMismatch("[" + std::to_string(i) + "] " + mismatch.what());
    }
  }
}

template <typename T>
void take(const RecordJson& json, T& value) {
  if constexpr (json_value::IsOptional<T>::value) {
    take(json, value.emplace());
  } else if constexpr (std::is_enum_v<T>) {
    std::string word;
    take_text(json, word);
    value = named<T>(word);
  } else if constexpr (std::is_same_v<T, std::string>) {
    take_text(json, value);
  } else if constexpr (std::is_floating_point_v<T>) {
    take_number(json, value);
  } else if constexpr (std::is_same_v<T, bool>) {
    if (!json.is_boolean()) throw JsonMismatch("true or false is wanted");
    value = json.get<bool>();
  } else if constexpr (std::is_arithmetic_v<T>) {
    constexpr long long least = std::is_unsigned_v<T> ? 0 : std::numeric_limits<int>::min();
    value = static_cast<T>(whole_number_in(json, least, std::numeric_limits<int>::max()));
  } else if constexpr (json_value::Matrix<T>) {
    const RecordJson& list = list_in(json, static_cast<std::size_t>(value.size()));
    for (Eigen::Index i = 0; i < value.size(); ++i) {
      take_number(list[static_cast<std::size_t>(i)], value(i / value.cols(), i % value.cols()));
    }
  } else if constexpr (json_value::IsArray<T>::value) {
    take_each(list_in(json, value.size()), value);
  } else if constexpr (json_value::IsVector<T>::value) {
    value = T(list_in(json).size());
    take_each(json, value);
  } else {
    if (!json.is_object()) throw JsonMismatch("an object is wanted");
    each_field(FieldReader{json}, value);
  }
}

}  // namespace glintline
