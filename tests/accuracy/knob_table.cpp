#include "accuracy/knob_table.h"

#include <algorithm>
#include <map>

#include "accuracy/table_row.h"

namespace glintline::testing {

namespace {

/// "all" and "usual" first, the rest by name.
struct ByKnob {
  static int rank(const std::string& knob) { return knob == "all" ? 0 : knob == "usual" ? 1 : 2; }
  bool operator()(const std::string& a, const std::string& b) const {
    return rank(a) != rank(b) ? rank(a) < rank(b) : a < b;
  }
};

std::map<std::string, ProfileStudy, ByKnob> split(const ProfileStudy& study) {
  std::map<std::string, ProfileStudy, ByKnob> parts;
  for (const FoundCutters& photo : study.photos) {
    if (const auto knob = knob_of(photo.photo)) parts[*knob].photos.push_back(photo);
  }
  for (const Compared& value : study.values) {
    if (const auto knob = knob_of(value.photo)) parts[*knob].values.push_back(value);
  }
  return parts;
}

std::string finding_row(const std::string& knob, const ProfileStudy& part) {
  int refused = 0, over_field = 0, found = 0, invented = 0, hands_wrong = 0;
  for (const FoundCutters& f : part.photos) {
    refused += f.refused ? 1 : 0;
    over_field += f.over_field;
    found += f.found;
    invented += f.invented;
    hands_wrong += f.hands_wrong;
  }
  return row("%-16s %7zu %8d %8d %6d %9d %12d\n", knob.c_str(), part.photos.size(), refused, over_field, found,
             invented, hands_wrong);
}

}  // namespace

std::optional<std::string> knob_of(const std::string& photo) {
  const auto first = photo.find('-');
  const auto last = photo.rfind('-');
  if (first == std::string::npos || last <= first + 1 || last + 1 == photo.size()) return std::nullopt;
  const std::string view = photo.substr(0, first);
  const bool seeded = std::all_of(photo.begin() + static_cast<std::ptrdiff_t>(last) + 1, photo.end(),
                                  [](char c) { return c >= '0' && c <= '9'; });
  if ((view != "plan" && view != "profile") || !seeded) return std::nullopt;
  return photo.substr(first + 1, last - first - 1);
}

ProfileStudy of_knob(const ProfileStudy& study, const std::string& knob) {
  auto parts = split(study);
  return parts[knob];
}

std::string knob_table(const ProfileStudy& study, std::span<const char* const> quantities) {
  const auto parts = split(study);
  std::string text = "knob              photos  refused   wanted  found  invented  hands wrong\n";
  for (const auto& [knob, part] : parts) text += finding_row(knob, part);
  for (const char* quantity : quantities) {
    text += row("\n%s\n%-16s %8s %6s %9s %9s %9s %9s %9s %9s\n", quantity, "knob", "answered", "of", "bias", "sd",
                "median|e|", "95%|e|", "coverage", "med u95");
    for (const auto& [knob, part] : parts) {
      const Summary s = summary_of(part, quantity);
      text += row("%-16s %8d %6d %+9.3f %9.3f %9.3f %9.3f %8.0f%% %9.3f\n", knob.c_str(), s.answered, s.wanted, s.bias,
                  s.sd, s.median_error, s.p95, 100 * s.coverage, s.median_u95);
    }
  }
  return text;
}

EdgeCounts counts_of_knob(const PlanStudy& study, const std::string& knob) {
  EdgeCounts counts;
  for (const StudiedEdge& e : study.edges) {
    if (knob_of(e.photo) == knob) counts.add(e);
  }
  return counts;
}

std::string edge_table(const PlanStudy& study) {
  std::map<std::string, EdgeCounts, ByKnob> parts;
  for (const StudiedEdge& e : study.edges) {
    if (const auto knob = knob_of(e.photo)) parts[*knob].add(e);
  }
  std::string text =
      "knob              edges  radii  right  limits  hold   searched  chips  found  invented  whole edges\n";
  for (const auto& [knob, c] : parts) {
    text += row("%-16s %6d %6d %6d %7d %5d %10d %6d %6d %9d %12d\n", knob.c_str(), c.edges, c.radii, c.right, c.limits,
                c.limits_hold, c.searched, c.chips, c.found, c.invented, c.whole);
  }
  return text;
}

}  // namespace glintline::testing
