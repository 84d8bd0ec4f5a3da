// The accuracy study: measures every rendered photograph of a folder and writes tables by knob; see samples/README.md.
#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <string>

#include "accuracy/knob_table.h"

namespace {

using namespace glintline::testing;

constexpr const char* kProfile[] = {"drop mm", "drop<4deg", "length mm", "slope deg", "hook deg", "pitch %"};
constexpr const char* kPlan[] = {"length mm", "angle deg", "radius um", "p90 um"};

void write(const std::filesystem::path& file, const std::string& text) {
  std::fputs(text.c_str(), stdout);
  std::ofstream out(file);
  out << text;
  if (!out.flush()) throw std::runtime_error("cannot write " + file.string());
}

int study(const std::filesystem::path& photos, const std::filesystem::path& tables) {
  std::filesystem::create_directories(tables);
  const ProfileStudy profile = study_profiles(photos);
  const PlanStudy plan = study_plans(photos, StandOff::kGiven);
  if (profile.photos.empty() && plan.edges.empty()) {
    std::fprintf(stderr, "no photograph with a truth file in %s: render some first\n", photos.c_str());
    return 2;
  }
  if (!profile.photos.empty()) {
    write(tables / "accuracy-study-profile.txt",
          "Profile photographs; given: the stand-off to 0.3 mm of a chain on the bar, nothing else\n\n" + knob_table(profile, kProfile) +
              "\nAll knobs together\n" + summary_table(of_knob(profile, "all"), kProfile));
    write(tables / "each-profile.txt", table_of(profile, "Profile photographs, one by one"));
  }
  if (!plan.compared.photos.empty()) {
    const PlanStudy blind = study_plans(photos, StandOff::kUnknown);
    constexpr const char* kLength[] = {"length mm"};
    write(tables / "accuracy-study-plan.txt",
          "Plan photographs, height of the top plates given to 0.3 mm and off by up to 0.15 mm\n\n" +
              knob_table(plan.compared, kPlan) + "\n" + edge_table(plan) +
              "\nThe same photographs, height not given\n\n" + knob_table(blind.compared, kLength) +
              "\nAll knobs together, height given\n" + summary_table(of_knob(plan.compared, "all"), kPlan) +
              counted_edges(counts_of_knob(plan, "all")));
    write(tables / "each-plan.txt", table_of(plan, "Plan photographs, one by one"));
  }
  return 0;
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 3) {
    std::fprintf(stderr, "usage: accuracy_study PHOTOS TABLES (folders)\n");
    return 2;
  }
  try {
    return study(arguments[1], arguments[2]);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "accuracy_study: %s\n", error.what());
    return 1;
  }
}
