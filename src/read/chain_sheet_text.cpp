#include "read/chain_sheet_text.h"

#include <algorithm>

#include "read/chain_sheet_file.h"

namespace glintline {

namespace {

std::string quoted(const std::string& text) {
  std::string all(1, '"');
  for (const char c : text) {
    if (c == '"' || c == '\\') all += '\\';
    all += c;
  }
  all += '"';
  return all;
}

/// A number stays bare, so that reading it can tell a wrong unit; what is none is quoted, so that reading complains of
/// the value and not of the file.
std::string toml_value(const SheetQuestion& question, const std::string& value) {
  const bool number =
      value.find_first_not_of("0123456789.+-eE") == std::string::npos || value == "true" || value == "false";
  return question.text || !number ? quoted(value) : value;
}

std::string value_of(const std::vector<SheetAnswer>& answers, const std::string& key) {
  const auto found = std::find_if(answers.begin(), answers.end(), [&](const SheetAnswer& a) { return a.key == key; });
  return found == answers.end() ? std::string() : found->value;
}

constexpr const char* kGrowing = "limits.growing_setting";

bool grows(const std::vector<SheetAnswer>& answers) {
  return std::any_of(answers.begin(), answers.end(),
                     [](const SheetAnswer& a) { return a.key.starts_with(kGrowing) && !a.value.empty(); });
}

std::string lines_of(const std::vector<SheetAnswer>& answers) {
  std::string text;
  std::string section;
  for (const SheetQuestion& question : sheet_questions()) {
    const std::size_t dot = question.key.rfind('.');
    if (dot != std::string::npos && question.key.substr(0, dot) != section) {
      section = question.key.substr(0, dot);
      // The section's mere presence makes the setting grow.
      text += std::string("\n") + (section == kGrowing && !grows(answers) ? "# [" : "[") + section + "]\n";
    }
    const std::string key = dot == std::string::npos ? question.key : question.key.substr(dot + 1);
    const std::string value = value_of(answers, question.key);
    text += "# " + question.question + ". Without it: " + question.default_text + ".\n";
    text += value.empty() ? "# " + key + " =\n" : key + " = " + toml_value(question, value) + "\n";
  }
  return text;
}

constexpr const char* kHead =
    "# Sheet of one saw chain. The chain maker's instruction comes before every default. Lengths in mm, angles in\n"
    "# degrees. A line that starts with # says nothing: take the # away and write the value behind the =.\n\n";

}  // namespace

const std::vector<SheetQuestion>& sheet_questions() {
  static const std::vector<SheetQuestion> questions{
      {"name", "What you call the chain", "the file's name", true},
      {"pitch_mm", "Pitch: over three neighbouring rivets, divided by two (many 3/8 in chains have 9.32, not 9.525)",
       "told from the photographs, wider"},
      {"low_profile", "Low profile, true or false (a 1/4 in one is set to less drop)", "false"},
      {"drive_link_gauge_mm", "Thickness of the drive links (1.1, 1.3, 1.5, 1.6)", "unknown"},
      {"drive_links", "Count of drive links; the number of cutters comes from it",
       "how many cutters are missing is not known"},
      {"sequence", "full (a cutter on every 2nd drive link), semi-skip or full-skip", "full", true},
      {"first_cutter", "Hand of cutter number 1, at the mark: left or right", "told from the photographs", true},
      {"counting", "Numbers grow behind (against the running direction) or ahead", "told from the photographs", true},
      {"alike_after", "Number of the cutter behind which the next is of the same hand, where a loop was joined so",
       "none, or between the last and the first"},
      {"corner", "chisel (square corner) or semi-chisel (rounded)", "unknown", true},
      {"file_diameter_mm", "Diameter of the round file", "unknown"},
      {"filing_angle_deg", "Edge angle to file to, from the line square to the chain (60 to the bar is 30 here)", "30"},
      {"wood", "hard-or-frozen, or soft-unfrozen, which permits more drop with caution", "hard-or-frozen", true},
      {"limits.gauge_setting_mm", "Gauge drop to set, by the chain's maker", "0.65; 0.45 or 0.80 by pitch"},
      {"limits.most_drop_mm", "More drop than this is out of use, never over 0.89", "the setting and 0.10"},
      {"limits.retired_length_mm", "A cutter with less top plate is retired, by the chain's maker", "4.0"},
      {"limits.dull_radius_um", "Edge radius over which a cutter is dull, in micrometres", "40"},
      {"limits.growing_setting.new_mm",
       "Drop of a new cutter, where the setting grows as it shortens (then without "
       "gauge_setting_mm above)",
       "a fixed setting"},
      {"limits.growing_setting.worn_mm", "Drop of a cutter at its end", "0.89 at the most"},
  };
  return questions;
}

Result<std::string> chain_sheet_text(const std::vector<SheetAnswer>& answers) {
  const std::string text = kHead + lines_of(answers);
  const Result<ChainSheet> read = parse_chain_sheet(text, "chain.toml");
  if (!read.ok()) return Error{Fault::kBadOption, read.error().what, ""};
  return text;
}

}  // namespace glintline
