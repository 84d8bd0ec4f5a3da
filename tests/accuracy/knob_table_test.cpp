#include "accuracy/knob_table.h"

#include <gtest/gtest.h>

namespace glintline::testing {
namespace {

Quantity with_u(double value, double u) { return Quantity{value, {BudgetLine{Source::kEdge, u}}}; }

TEST(KnobTable, ReadsTheKnobFromTheName) {
  EXPECT_EQ(knob_of("plan-tilt_deg-3001"), "tilt_deg");
  EXPECT_EQ(knob_of("profile-all-12"), "all");
  EXPECT_FALSE(knob_of("ridge-stone-plan-3"));
  EXPECT_FALSE(knob_of("plan-wide-2a"));
  EXPECT_FALSE(knob_of("plan-3"));
  EXPECT_FALSE(knob_of("profile"));
}

TEST(KnobTable, KeepsKnobsApart) {
  ProfileStudy study;
  study.values.push_back({"profile-dirt-1", "3", "drop mm", 0.60, with_u(0.65, 0.01)});
  study.values.push_back({"profile-usual-1", "3", "drop mm", 0.60, with_u(0.61, 0.01)});
  study.values.push_back({"profile-usual-2", "4", "drop mm", 0.60, std::nullopt});
  study.values.push_back({"ridge-stone-profile-1", "4", "drop mm", 0.60, with_u(9, 0.01)});
  FoundCutters found;
  found.photo = "profile-dirt-1";
  found.over_field = 2;
  found.found = 1;
  study.photos.push_back(found);
  const char* const quantities[] = {"drop mm"};
  const std::string text = knob_table(study, quantities);
  EXPECT_NE(text.find("usual                   1      2    +0.010     0.000     0.010     0.010      100%     0.020"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("dirt                    1      1    +0.050     0.000     0.050     0.050        0%     0.020"),
            std::string::npos)
      << text;
  EXPECT_NE(text.find("dirt                   1        0        2      1         0            0"), std::string::npos) << text;
  EXPECT_EQ(text.find("stone"), std::string::npos);
  EXPECT_LT(text.find("usual"), text.find("dirt", text.find("drop mm")));
}

TEST(KnobTable, CountsChipsOnlyWhereTheWholeEdgeWasSearched) {
  PlanStudy study;
  StudiedEdge whole;
  whole.photo = "plan-oil-1";
  whole.true_radius_um = 20;
  whole.radius_um = with_u(25.5, 1);
  whole.chips_searched = true;
  StudiedEdge hidden;
  hidden.photo = "plan-oil-2";
  hidden.true_radius_um = 20;
  hidden.limit_um = 15;
  hidden.chips = 2;
  study.edges = {whole, hidden};
  const std::string text = edge_table(study);
  EXPECT_NE(text.find("oil                   2      1      1       1     0          1      0      0         0            1"),
            std::string::npos)
      << text;
}

}  // namespace
}  // namespace glintline::testing
