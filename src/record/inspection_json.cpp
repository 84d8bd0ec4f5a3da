#include "record/inspection_json.h"

#include "record/document.h"
#include "record/fields.h"

namespace glintline {
namespace {

constexpr DocumentForm kForm{"glintline inspection", 1};

}  // namespace

std::string to_json(const Inspection& inspection) { return document_of(kForm, inspection); }

Result<Inspection> inspection_from_json(std::string_view text) { return value_in<Inspection>(kForm, text); }

}  // namespace glintline
