#pragma once

#include <string>
#include <string_view>

#include "base/result.h"
#include "record/json_value.h"

namespace glintline {

/// What a recorded document says it is.
struct DocumentForm {
  const char* name;  ///< "glintline inspection"
  int version;       ///< of its fields' meaning; a field more does not raise it
};

/// One line of JSON that starts with the form.
template <typename T>
[[nodiscard]] std::string document_of(const DocumentForm& form, const T& value) {
  RecordJson json{{"form", form.name}, {"version", form.version}};
  each_field(FieldWriter{json}, value);
  return json.dump();
}

/// Parses and checks the form. Throws JsonMismatch.
[[nodiscard]] RecordJson opened_document(const DocumentForm& form, std::string_view text);

/// Fails: kBadOption, telling where in the document.
template <typename T>
[[nodiscard]] Result<T> value_in(const DocumentForm& form, std::string_view text) {
  try {
    T value;
    take(opened_document(form, text), value);
    return value;
  } catch (const JsonMismatch& mismatch) {
    return Error{Fault::kBadOption, std::string("no ") + form.name + " document: " + mismatch.what(), ""};
  }
}

}  // namespace glintline
