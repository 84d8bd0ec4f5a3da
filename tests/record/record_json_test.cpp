#include "record/record_json.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "record/known_inspection.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)
using ::testing::HasSubstr;

std::vector<ChainEvent> one_of_each() {
  const Quantity section{491.0 / 3, {{Source::kDefinition, 0.1}}};
  return {{"e1", "loop", "2026-11-02", Job{1.5, 2.0 / 3, 0.7, "spruce, frozen", true, true}, "a stone"},
          {"e2", "loop", "2026-11-03", FilingDone{"K\xC3\xA4the", 3.5, {{7, 9}}, 4.0}, ""},
          {"e3", "loop", "2026-10-01T08:00", Purchase{24.9, "EUR"}, ""},
          {"e4", "loop", "2026-11-02", TimedCut{17.6, section, "spruce"}, "third cut"}};
}

TEST(RecordJson, AChainsInspectionComesBackWhole) {
  const RecordedInspection recorded = recorded_chain("i1");
  const std::string text = to_json(recorded);
  const Result<RecordedInspection> back = recorded_inspection_from_json(text);
  ASSERT_TRUE(back.ok()) << back.error().what;
  EXPECT_EQ(to_json(*back), text);
  ASSERT_EQ(back->inspection.photos.size(), recorded.inspection.photos.size());
  for (std::size_t i = 0; i < back->inspection.photos.size(); ++i) {
    expect_same(back->inspection.photos[i], recorded.inspection.photos[i]);
  }
  EXPECT_EQ(back->at, recorded.at);
  EXPECT_EQ(back->stage, recorded.stage);
  EXPECT_EQ(back->inspection.sheet.geometry.side_plate->u_mm, recorded.inspection.sheet.geometry.side_plate->u_mm);
  EXPECT_EQ(back->inspection.limits.caution_drop_mm->source, "handbook");
  EXPECT_EQ(back->inspection.cutters[1].sightings[0].photo, 1U);
  EXPECT_EQ(back->inspection.plan.work[2].strokes->most, recorded.inspection.plan.work[2].strokes->most);
  EXPECT_EQ(back->inspection.plan.options[0].but, recorded.inspection.plan.options[0].but);
  EXPECT_EQ(back->inspection.counting, Counting::kAhead);
}

TEST(RecordJson, EventsOfEveryKindComeBack) {
  for (const ChainEvent& event : one_of_each()) {
    const Result<ChainEvent> back = event_from_json(to_json(event));
    ASSERT_TRUE(back.ok()) << back.error().what;
    EXPECT_EQ(to_json(*back), to_json(event));
    EXPECT_EQ(back->what.index(), event.what.index());
    EXPECT_EQ(back->note, event.note);
  }
  const ChainEvent job = *event_from_json(to_json(one_of_each()[0]));
  EXPECT_EQ(std::get<Job>(job.what).tanks, 2.0 / 3);
  EXPECT_TRUE(std::get<Job>(job.what).metal);
  const ChainEvent filing = *event_from_json(to_json(one_of_each()[1]));
  EXPECT_EQ(std::get<FilingDone>(filing.what).otherwise[0].strokes, 9);
}

TEST(RecordJson, ALineTellsWhatItIs) {
  EXPECT_TRUE(std::holds_alternative<ChainEvent>(*entry_from_json(to_json(one_of_each()[0]))));
  EXPECT_TRUE(std::holds_alternative<RecordedInspection>(*entry_from_json(to_json(recorded_chain("i1")))));
  EXPECT_FALSE(entry_from_json("{\"form\": \"letter\"}").ok());
  EXPECT_FALSE(entry_from_json("").ok());
}

TEST(RecordJson, WhatLeadsNowhereOrIsTwoThingsAtOnceIsRefused) {
  nlohmann::json chain = nlohmann::json::parse(to_json(recorded_chain("i1")));
  chain["inspection"]["cutters"][0]["sightings"][0]["photo"] = 72;
  EXPECT_THAT(recorded_inspection_from_json(chain.dump()).error().what, HasSubstr("photograph that is not in it"));
  nlohmann::json event = nlohmann::json::parse(to_json(one_of_each()[0]));
  event["purchase"] = {{"price", 3}};
  EXPECT_FALSE(event_from_json(event.dump()).ok());
  event.erase("purchase");
  event.erase("job");
  EXPECT_FALSE(event_from_json(event.dump()).ok());
}

}  // namespace
}  // namespace glintline
