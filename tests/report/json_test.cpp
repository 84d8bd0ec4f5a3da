#include "report/json.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <limits>
#include <nlohmann/json.hpp>

#include "report/sample_inspection.h"

namespace glintline {
namespace {

using nlohmann::json;
using ::testing::Each;
using ::testing::HasSubstr;
using ::testing::Not;
using namespace testing;  // NOLINT(google-build-using-namespace)

json parsed(const std::vector<Inspection>& inspections) { return json::parse(json_text(inspections)); }

TEST(Json, IsAnArrayWithOneObjectAPhotograph) {
  EXPECT_EQ(parsed({}), json::array());
  const json list = parsed({profile_inspection(), refused_inspection(), plan_inspection()});
  ASSERT_EQ(list.size(), 3U);
  EXPECT_EQ(list[0]["photo"], "bench/c07.jpg");
  EXPECT_EQ(list[1]["photo"], "bench/dark.jpg");
  EXPECT_EQ(list[2]["photo"], "bench/p12.jpg");
}

TEST(Json, EveryObjectHasEveryField) {
  for (const json& photo : parsed({profile_inspection(), refused_inspection(), plan_inspection()})) {
    for (const char* field :
         {"photo", "file_sha256", "program", "view", "status", "reasons", "scale", "cutters", "notes"}) {
      EXPECT_TRUE(photo.contains(field)) << field;
    }
    for (const json& cutter : photo["cutters"]) {
      for (const char* field : {"number", "hand", "corner_px", "length_mm", "gauge_drop_mm", "edge_angle_deg",
                                "top_slope_deg", "hook_angle_deg", "edge_radius_um", "edge_radius_p90_um",
                                "edge_radius_limit_um", "chips", "verdict", "why"}) {
        EXPECT_TRUE(cutter.contains(field)) << field;
      }
    }
  }
}

TEST(Json, CarriesValuesRoundedWithU95AtTwoSigma) {
  const json photo = parsed({profile_inspection()})[0];
  EXPECT_EQ(photo["status"], "measured");
  EXPECT_EQ(photo["view"], "profile");
  EXPECT_EQ(photo["scale"]["card"], "close");
  EXPECT_EQ(photo["scale"]["tilt_deg"], 3.1);
  EXPECT_EQ(photo["scale"]["pitch_mm"], (json{{"value", 9.52}, {"u95", 0.02}}));
  const json& cutter = photo["cutters"][0];
  EXPECT_EQ(cutter["number"], 7);
  EXPECT_EQ(cutter["hand"], "right");
  EXPECT_EQ(cutter["gauge_drop_mm"], (json{{"value", 0.5012}, {"u95", 0.03}}));
  EXPECT_EQ(cutter["top_slope_deg"], (json{{"value", 5.2}, {"u95", 1.0}}));
  EXPECT_EQ(cutter["corner_px"], (json{500.123, 230.5}));
  EXPECT_EQ(cutter["verdict"], "lower gauge");
  EXPECT_THAT(json_text({profile_inspection()}), HasSubstr("\"value\": 0.5012")) << "as written, not as parsed";
}

TEST(Json, WhatCouldNotBeHadIsNullAndWhySaysSo) {
  const json photo = parsed({profile_inspection()})[0];
  EXPECT_TRUE(photo["cutters"][0]["edge_radius_um"].is_null());
  EXPECT_THAT(photo["cutters"][0]["why"].dump(), HasSubstr("seen from above only"));
  EXPECT_TRUE(photo["cutters"][1]["number"].is_null());
  EXPECT_TRUE(photo["cutters"][1]["hand"].is_null());
  EXPECT_EQ(photo["cutters"][1]["verdict"], "not measured");
  EXPECT_FALSE(photo["cutters"][0]["chips_searched"]) << "an empty list of chips must not read as none";
}

TEST(Json, PlanValuesAndChips) {
  const json cutter = parsed({plan_inspection()})[0]["cutters"][0];
  EXPECT_EQ(cutter["edge_angle_deg"], (json{{"value", 29.7}, {"u95", 0.4}}));
  EXPECT_EQ(cutter["edge_radius_limit_um"], 14);
  ASSERT_EQ(cutter["chips"].size(), 2U);
  EXPECT_EQ(cutter["chips"][0]["at_mm"], 1.2);
  EXPECT_EQ(cutter["chips"][0]["depth_mm"], (json{{"value", 0.31}, {"u95", 0.02}}));
  EXPECT_EQ(cutter["also"], (json{"file"}));
}

TEST(Json, ARefusedPhotographHasItsReason) {
  const json photo = parsed({refused_inspection()})[0];
  EXPECT_EQ(photo["status"], "refused");
  EXPECT_EQ(photo["fault"], "card_hidden");
  EXPECT_THAT(photo["reasons"][0].get<std::string>(), HasSubstr("12 needed"));
  EXPECT_TRUE(photo["scale"].is_null());
  EXPECT_TRUE(photo["view"].is_null());
  EXPECT_TRUE(photo["cutters"].empty());
}

TEST(Json, NumbersThatAreNoneAreNull) {
  Inspection odd = profile_inspection();
  odd.mm_per_px = std::numeric_limits<double>::quiet_NaN();
  odd.pitch_mm = quantity(9.5, std::numeric_limits<double>::infinity());
  odd.cutters[0].measured.length_mm = quantity(std::nan(""), 0.1);
  odd.cutters[0].measured.corner_px = Point2(std::nan(""), 1);
  const json photo = parsed({odd})[0];
  EXPECT_TRUE(photo["scale"]["mm_per_px"].is_null());
  EXPECT_TRUE(photo["scale"]["pitch_mm"].is_null());
  EXPECT_TRUE(photo["cutters"][0]["length_mm"].is_null());
  EXPECT_TRUE(photo["cutters"][0]["corner_px"][0].is_null());
}

TEST(Json, OddPathsAreStillValid) {
  Inspection odd = refused_inspection();
  odd.photo_path = "a\xFF\xC3\xB6\"\\\n.jpg";
  odd.refusal->what = "\xC3 cut short";
  const json photo = parsed({odd})[0];  // the parser refuses invalid UTF-8
  EXPECT_EQ(photo["photo"], "a\xEF\xBF\xBD\xC3\xB6\"\\ .jpg");
}

}  // namespace
}  // namespace glintline
