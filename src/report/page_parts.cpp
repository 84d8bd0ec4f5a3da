#include "report/page_parts.h"

// The assembler takes the files in as they are; as string literals they would have to be cut into pieces that the
// language allows.
#define GLINTLINE_PART(name, path)  \
  asm(".section .rodata\n" name     \
      "_begin:\n"                   \
      ".incbin \"" path "\"\n" name \
      "_end:\n"                     \
      ".byte 0\n"                   \
      ".previous\n")

GLINTLINE_PART("glintline_template", GLINTLINE_PAGE_TEMPLATE);
GLINTLINE_PART("glintline_style", GLINTLINE_PAGE_STYLE);
GLINTLINE_PART("glintline_script", GLINTLINE_PAGE_SCRIPT);
GLINTLINE_PART("glintline_chart_library", GLINTLINE_CHART_LIBRARY);

extern "C" {
extern const char glintline_template_begin[];
extern const char glintline_template_end[];
extern const char glintline_style_begin[];
extern const char glintline_style_end[];
extern const char glintline_script_begin[];
extern const char glintline_script_end[];
extern const char glintline_chart_library_begin[];
extern const char glintline_chart_library_end[];
}

namespace glintline {

std::string_view page_template() { return {glintline_template_begin, glintline_template_end}; }
std::string_view page_style() { return {glintline_style_begin, glintline_style_end}; }
std::string_view page_script() { return {glintline_script_begin, glintline_script_end}; }
std::string_view chart_library() { return {glintline_chart_library_begin, glintline_chart_library_end}; }

}  // namespace glintline
