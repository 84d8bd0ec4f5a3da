// A chain's inspection and comparison as text for a terminal and as JSON for other programs.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>

#include "report/chain_text.h"
#include "report/sample_chain.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

using nlohmann::json;
using ::testing::Contains;
using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

constexpr double kDegree = M_PI / 180;

Quantity with_u(double value, double u) { return {value, {{Source::kEdge, u}}}; }

ChainInspection sample() { return testing::sample_report().recorded.inspection; }

json chain_object(const ChainInspection& chain) { return json::parse(chain_json(chain)); }
json comparison_object(const Comparison& comparison) { return json::parse(comparison_json(comparison)); }

// --- JSON --------------------------------------------------------------------------------------------------------

TEST(ChainJson, HasEveryFieldAlsoOfAnEmptyChain) {
  for (const ChainInspection& chain : {sample(), ChainInspection{}}) {
    const json object = chain_object(chain);
    for (const char* field : {"chain", "verdict", "why", "cannot_claim", "look_next", "expected_cutters", "counting",
                              "cutters", "plan", "retakes", "notes", "photos"}) {
      EXPECT_TRUE(object.contains(field)) << field;
    }
    for (const char* field : {"target_mm", "decided_by", "mm_per_stroke", "filing_order", "work", "left_less_right_mm",
                              "sharpenings_left", "options", "not_planned", "notes"}) {
      EXPECT_TRUE(object["plan"].contains(field)) << field;
    }
  }
  EXPECT_EQ(chain_object(sample())["cutters"].size(), 34U);
  EXPECT_EQ(chain_json({}).back(), '\n');
}

/// Values that stand alone: places, and limits that are no measurement but a bound.
bool stands_alone(const std::string& key) { return key == "at_mm" || key == "edge_radius_limit_um"; }

bool has_unit(const std::string& key) {
  return key.ends_with("_mm") || key.ends_with("_um") || key.ends_with("_deg") || key.ends_with("_mm2");
}

/// Every key that ends in a unit holds null, or a value with its u95.
void expect_u95_everywhere(const json& object, const std::string& path, int& figures) {
  if (object.is_array()) {
    for (const json& element : object) expect_u95_everywhere(element, path, figures);
  }
  if (!object.is_object()) return;
  for (const auto& [key, value] : object.items()) {
    const std::string here = path + "/" + key;
    if (!has_unit(key) || stands_alone(key)) {
      expect_u95_everywhere(value, here, figures);
    } else if (!value.is_null()) {
      ASSERT_TRUE(value.is_object() && value.contains("value")) << here << ": " << value;
      EXPECT_TRUE(value["u95"].is_number() && value["u95"] >= 0) << here << ": " << value;
      ++figures;
    }
  }
}

TEST(ChainJson, GivesEveryFigureItsU95) {
  json object = chain_object(sample());
  object.erase("photos");  // by tests/report/json_test.cpp
  int figures = 0;
  expect_u95_everywhere(object, "", figures);
  EXPECT_GT(figures, 34 * 5) << "that were looked at";
}

TEST(ChainJson, TellsValuesInTheUnitsOfTheirKeys) {
  ChainInspection chain = sample();
  CutterMeasurement& m = chain.cutters[0].measured;
  m.edge_angle_rad = with_u(30 * kDegree, 0.2 * kDegree);
  m.length_mm = with_u(8.12345, 0.02);
  m.edge_radius_um = with_u(47, 7.5);
  chain.plan.work[0].take_mm = with_u(0.4, 0.05);
  chain.plan.work[0].strokes = CountBand{4, 8, 16};
  const json object = chain_object(chain);
  const json& cutter = object["cutters"][0];
  EXPECT_EQ(cutter["edge_angle_deg"], json({{"value", 30.0}, {"u95", 0.4}}));
  EXPECT_EQ(cutter["length_mm"], json({{"value", 8.1235}, {"u95", 0.04}})) << "a tenth of a micrometre";
  EXPECT_EQ(cutter["edge_radius_um"], json({{"value", 47.0}, {"u95", 15.0}}));
  EXPECT_EQ(object["plan"]["work"][0]["take_mm"], json({{"value", 0.4}, {"u95", 0.1}}));
  EXPECT_EQ(object["plan"]["work"][0]["strokes"], json({{"least", 4.0}, {"likely", 8.0}, {"most", 16.0}}));
}

TEST(ChainJson, LeavesWhatIsNotKnownNullAndSaysWhy) {
  ChainInspection chain = sample();
  CutterMeasurement& m = chain.cutters[0].measured;
  m.gauge_drop_mm.reset();
  m.missing = {"gauge drop: the gauge lies in the shadow"};
  m.length_mm = with_u(std::numeric_limits<double>::quiet_NaN(), 0.1);
  m.edge_radius_um = with_u(47, std::numeric_limits<double>::infinity());
  chain.cutters[0].hand.reset();
  chain.plan.work[0].take_mm.reset();
  chain.plan.work[0].strokes.reset();
  const json object = chain_object(chain);
  const json& cutter = object["cutters"][0];
  for (const char* value : {"gauge_drop_mm", "length_mm", "edge_radius_um", "hand"}) {
    EXPECT_TRUE(cutter[value].is_null()) << value << ": " << cutter[value];
  }
  EXPECT_THAT(cutter["why"].get<std::vector<std::string>>(), Contains("gauge drop: the gauge lies in the shadow"));
  EXPECT_TRUE(object["plan"]["work"][0]["take_mm"].is_null());
  EXPECT_TRUE(object["plan"]["work"][0]["strokes"].is_null());
}

TEST(ChainJson, KeepsTextsPrintable) {
  ChainInspection chain = sample();
  chain.sheet.name = "loop \x1b[31m\xFF";
  chain.verdict.why = {"\x07 \"quoted\""};
  const std::string text = chain_json(chain);
  EXPECT_TRUE(json::accept(text));
  EXPECT_THAT(text, Not(HasSubstr("\x1b")));
  EXPECT_THAT(text, Not(HasSubstr("\xFF")));
  EXPECT_THAT(text, HasSubstr("\\\"quoted\\\""));
}

Comparison filed() {
  Comparison comparison;
  ComparedCutter cutter;
  cutter.number = 4;
  cutter.hand = Hand::kRight;
  cutter.changes = {{"length", with_u(8.1, 0.04), with_u(7.6, 0.04), with_u(-0.5, 0.05), true, "0.50 mm filed off"},
                    {"gauge drop", with_u(0.6, 0.04), with_u(0.58, 0.04), with_u(-0.02, 0.05), false, "no difference"},
                    {"edge radius", with_u(47, 7), std::nullopt, std::nullopt, true, "sharper", std::nullopt, 20.0},
                    {"edge angle", with_u(30 * kDegree, 0.2 * kDegree), with_u(31 * kDegree, 0.2 * kDegree),
                     with_u(kDegree, 0.25 * kDegree), true, "more edge angle"}};
  cutter.chips = {{3.5, with_u(0.16, 0.015), std::nullopt}, {0.5, std::nullopt, with_u(0.12, 0.015)}};
  cutter.edge = EdgeAfter::kDamaged;
  cutter.findings = {"chip at 3.5 mm is gone"};
  comparison.cutters = {cutter};
  comparison.verdict = {"damage left behind the edge of cutter 4"};
  comparison.not_compared = {"heat"};
  return comparison;
}

TEST(ComparisonJson, TellsEveryChangeInItsUnit) {
  const json cutter = comparison_object(filed())["cutters"][0];
  const json& changes = cutter["changes"];
  EXPECT_EQ(changes[0]["unit"], "mm");
  EXPECT_EQ(changes[0]["difference"], json({{"value", -0.5}, {"u95", 0.1}}));
  EXPECT_EQ(changes[0]["real"], true);
  EXPECT_EQ(changes[1]["real"], false);
  EXPECT_EQ(changes[2]["unit"], "um");
  EXPECT_TRUE(changes[2]["difference"].is_null()) << "a bound is no value";
  EXPECT_EQ(changes[2]["after_most"], 20);
  EXPECT_TRUE(changes[2]["before_most"].is_null());
  EXPECT_EQ(changes[3]["unit"], "deg");
  EXPECT_EQ(changes[3]["difference"], json({{"value", 1.0}, {"u95", 0.5}}));
  EXPECT_EQ(cutter["edge_after"], "damaged");
  EXPECT_EQ(cutter["chips"][0]["before_mm"], json({{"value", 0.16}, {"u95", 0.03}}));
  EXPECT_TRUE(cutter["chips"][0]["after_mm"].is_null()) << "gone";
  EXPECT_TRUE(cutter["chips"][1]["before_mm"].is_null()) << "new";
  EXPECT_TRUE(comparison_object(filed())["mm_per_stroke"].is_null()) << "nobody counted strokes";
}

// --- text --------------------------------------------------------------------------------------------------------

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

/// The words of the first line that begins so, blanks left out.
std::vector<std::string> words_of_row(const std::string& text, const std::string& first) {
  for (const std::string& line : lines_of(text)) {
    std::istringstream stream(line);
    std::vector<std::string> words;
    for (std::string word; stream >> word;) words.push_back(word);
    if (words.size() > 4 && words[0] == first && (words[1] == "left" || words[1] == "right")) return words;
  }
  return {};
}

TEST(ChainText, SaysTheDecisionFirstAndTheCautionLast) {
  ChainInspection chain = sample();
  chain.sheet.name = "Bench loop 1";
  const std::string text = chain_text(chain, {});
  EXPECT_THAT(text, StartsWith("chain Bench loop 1: file\n"));
  std::size_t at = 0;
  for (const char* head : {"34 cutters of 36 in 3 photographs, 1 of them spoiled", "Worst first", "Filing plan",
                           "Other ways", "Photograph again", "Photograph next", "What these photographs cannot claim",
                           "Advice only: the chain maker's"}) {
    const std::size_t found = text.find(head, at);
    ASSERT_NE(found, std::string::npos) << head;
    at = found;
  }
}

TEST(ChainText, PutsThePlanInFilingOrderWithEveryUncertainty) {
  ChainInspection chain = sample();
  chain.plan.work[6].take_mm = with_u(0.79, 0.05);
  chain.plan.work[6].strokes = CountBand{11.2, 15.8, 26.1};
  chain.plan.work[6].gauge_take_mm = with_u(0.12, 0.02);
  chain.plan.work[6].drop_after_mm.reset();
  const std::string text = chain_text(chain, {});
  // cutter, hand, do, take, strokes (rounded outwards), then long, drop then (not known), off the gauge
  EXPECT_EQ(words_of_row(text, "7"), (std::vector<std::string>{"7", "left", "file", "0.79+-0.10", "16", "(11", "to",
                                                               "27)", "-", "-", "0.12+-0.04"}));
  EXPECT_LT(text.find("\n  1 "), text.find("\n  3 ")) << "left-handers first, from the mark on";
  EXPECT_LT(text.find("\n  33 "), text.find("\n  2 "));
}

TEST(ChainText, KeepsToTheTerminal) {
  const std::string plain = chain_text(sample(), {60, false, false, false});
  for (const char c : plain) ASSERT_TRUE(static_cast<unsigned char>(c) < 0x80 && c != '\x1b');
  for (const std::string& line : lines_of(plain)) {
    if (!line.starts_with("  - ")) continue;
    EXPECT_LE(display_width(line), 60) << line;
  }
  const std::string rich = chain_text(sample(), {60, true, true, false});
  EXPECT_THAT(rich, HasSubstr("\x1b[1mWorst first\x1b[0m"));
  EXPECT_THAT(rich, HasSubstr("0.62 ± 0.04 mm"));
}

TEST(ChainText, ShowsAllTheWorstOnlyWhenAsked) {
  const std::string brief = chain_text(sample(), {80, false, false, false});
  const std::string whole = chain_text(sample(), {80, false, false, true});
  // 34 cutters, 3 of them sharp: 31, of which 12 are shown.
  EXPECT_THAT(brief, HasSubstr("and 19 more cutters (--verbose shows all)"));
  EXPECT_THAT(whole, Not(HasSubstr("--verbose")));
  EXPECT_GT(whole.size(), brief.size());
}

TEST(ChainText, AnInspectionOfNothingIsStillAnAnswer) {
  const std::string text = chain_text({}, {});
  EXPECT_THAT(text, StartsWith("chain: undecided\n"));
  EXPECT_THAT(text, HasSubstr("0 cutters in 0 photographs"));
}

TEST(ComparisonText, ClaimsADifferenceOnlyWhereItIsReal) {
  const std::string text = comparison_text(filed(), {});
  EXPECT_THAT(text, StartsWith("Before and after\n  - damage left behind the edge of cutter 4\n"));
  EXPECT_EQ(words_of_row(text, "4"),
            (std::vector<std::string>{"4", "right", "0.50+-0.10", "-0.02+-0.10", "?", "none", "over", "20", "1.0+-0.5"}));
  EXPECT_THAT(text, HasSubstr("  4: chip at 3.5 mm is gone"));
  EXPECT_THAT(text, HasSubstr("Not compared\n  - heat"));
}

}  // namespace
}  // namespace glintline
