#include "record/inspection_json.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "record/known_inspection.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)
using ::testing::HasSubstr;
using ::testing::Not;

Inspection brought_back(const Inspection& inspection) {
  const Result<Inspection> back = inspection_from_json(to_json(inspection));
  EXPECT_TRUE(back.ok()) << (back.ok() ? "" : back.error().what);
  return back.ok() ? *back : Inspection{};
}

TEST(InspectionJson, EveryFieldComesBackToTheLastBit) {
  expect_same(full_inspection(), brought_back(full_inspection()));
}

TEST(InspectionJson, AnEmptyInspectionComesBackEmpty) { expect_same(Inspection{}, brought_back(Inspection{})); }

TEST(InspectionJson, NumbersThatJsonDoesNotKnowComeBack) {
  Inspection inspection;
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  CutterMeasurement cutter;
  cutter.edge_radius_limit_um = std::nan("");
  cutter.length_mm = Quantity{kInfinity, {{Source::kEdge, -kInfinity}}};
  cutter.gauge_drop_mm = Quantity{std::numeric_limits<double>::denorm_min(), {}};
  inspection.cutters = {{cutter, {}}};
  inspection.mm_per_px = std::numeric_limits<double>::max();
  expect_same(inspection, brought_back(inspection));
}

TEST(InspectionJson, IsOneLineOfStandardJsonAtItsNames) {
  const std::string text = to_json(full_inspection());
  EXPECT_THAT(text, Not(HasSubstr("\n")));
  const nlohmann::json json = nlohmann::json::parse(text);
  EXPECT_EQ(json["form"], "glintline inspection");
  EXPECT_EQ(json["refusal"]["fault"], "blurred");
  EXPECT_EQ(json["cutters"][0]["measured"]["length_mm"]["budget"][4]["source"], "stand_off");
  EXPECT_EQ(json["cutters"][0]["measured"]["length_mm"]["value"].get<double>(),
            full_inspection().cutters[0].measured.length_mm->value);
}

TEST(InspectionJson, AFieldFromBeforeItsTimeKeepsItsDefault) {
  nlohmann::json json = nlohmann::json::parse(to_json(full_inspection()));
  json["cutters"][0]["measured"].erase("edge_chart");
  json["a field of tomorrow"] = 3;
  const Result<Inspection> back = inspection_from_json(json.dump());
  ASSERT_TRUE(back.ok()) << back.error().what;
  EXPECT_TRUE(back->cutters[0].measured.edge_chart.empty());
  EXPECT_EQ(back->cutters[1].measured.edge_chart.size(), 2U);
}

TEST(InspectionJson, WhatIsNoInspectionIsToldByPlace) {
  const auto complaint_of = [](const std::string& text) {
    const Result<Inspection> back = inspection_from_json(text);
    EXPECT_FALSE(back.ok());
    EXPECT_TRUE(back.ok() || back.error().fault == Fault::kBadOption);
    return back.ok() ? "" : back.error().what;
  };
  EXPECT_THAT(complaint_of(""), HasSubstr("byte 1"));
  EXPECT_THAT(complaint_of("[]"), HasSubstr("\"form\""));
  EXPECT_THAT(complaint_of("{}"), HasSubstr("\"form\""));
  EXPECT_THAT(complaint_of("\xFF"), HasSubstr("byte 1"));
  nlohmann::json json = nlohmann::json::parse(to_json(full_inspection()));
  const auto changed = [&](const char* pointer, const nlohmann::json& by) {
    nlohmann::json copy = json;
    copy[nlohmann::json::json_pointer(pointer)] = by;
    return copy.dump();
  };
  EXPECT_THAT(complaint_of(changed("/version", 2)), HasSubstr("update glintline"));
  EXPECT_THAT(complaint_of(changed("/version", 0)), HasSubstr("whole number"));
  EXPECT_THAT(complaint_of(changed("/cutters/1/measured/length_mm/value", "long")),
              HasSubstr("cutters: [1] measured: length_mm: value: a number is wanted"));
  EXPECT_THAT(complaint_of(changed("/view", "front")), HasSubstr("view: unknown word 'front'"));
  EXPECT_THAT(complaint_of(changed("/cutters/0/measured/number", 1e12)), HasSubstr("number: a whole number"));
  EXPECT_THAT(complaint_of(changed("/card/view/camera_from_board/rotation", {1, 2})), HasSubstr("a list of 9"));
  EXPECT_THAT(complaint_of(changed("/photo_path", {{"hex", "abc"}})), HasSubstr("pairs"));
  EXPECT_THAT(complaint_of(changed("/cutters", 7)), HasSubstr("a list is wanted"));
}

TEST(InspectionJson, NoBeginningOfADocumentPassesForAWholeOne) {
  const std::string text = to_json(full_inspection());
  for (std::size_t length = 0; length < text.size(); length += 97) {
    EXPECT_FALSE(inspection_from_json(text.substr(0, length)).ok()) << length;
  }
}

}  // namespace
}  // namespace glintline
