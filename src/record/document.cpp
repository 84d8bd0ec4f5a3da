#include "record/document.h"

#include <limits>

namespace glintline {
namespace {

RecordJson parsed(std::string_view text) {
  try {
    return RecordJson::parse(text);
  } catch (const RecordJson::parse_error& error) {
    throw JsonMismatch("it is no JSON from byte " + std::to_string(error.byte) + " on");
  }
}

}  // namespace

RecordJson opened_document(const DocumentForm& form, std::string_view text) {
  RecordJson json = parsed(text);
  const auto name = json.is_object() ? json.find("form") : json.end();
  if (!json.is_object() || name == json.end() || *name != form.name) {
    throw JsonMismatch(std::string("it does not say \"form\": \"") + form.name + "\"");
  }
  const auto version = json.find("version");
  if (version == json.end()) throw JsonMismatch("it does not say its version");
  if (whole_number_in(*version, 1, std::numeric_limits<int>::max()) > form.version) {
    throw JsonMismatch("a newer glintline wrote it (version " + version->dump() + "; known up to " +
                       std::to_string(form.version) + "): update glintline");
  }
  return json;
}

}  // namespace glintline
