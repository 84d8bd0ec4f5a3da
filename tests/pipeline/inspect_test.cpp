#include "pipeline/inspect.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <mutex>
#include <opencv2/core/utility.hpp>
#include <set>
#include <stdexcept>
#include <thread>

namespace glintline {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

CutterMeasurement cutter(int number) {
  CutterMeasurement m;
  m.number = number;
  m.length_mm = Quantity{8, {}};
  return m;
}

Measurements measurements(ViewKind view) {
  Measurements m;
  m.view = view;
  m.mm_per_px = 0.02;
  m.cutters = {cutter(1), cutter(2)};
  m.notes = {"from measuring"};
  return m;
}

Error no_cutter(const std::string& what) { return {Fault::kNoCutter, what, ""}; }

/// Stages that all succeed and note their order.
Stages willing(std::vector<std::string>* calls = nullptr) {
  const auto note = [calls](const char* name) {
    if (calls != nullptr) calls->push_back(name);
  };
  Stages stages;
  stages.read = [note](const std::filesystem::path& path) -> Result<Photo> {
    note("read");
    Photo photo;
    photo.path = path.string();
    photo.sha256 = std::string("hash of ").append(path.string());
    return photo;
  };
  stages.locate = [note](const Photo&, const glintline::Setup&) -> Result<CardPose> {
    note("locate");
    CardPose card;
    card.warnings = {"from locating"};
    return card;
  };
  stages.measure_profile = [note](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    note("profile");
    return measurements(ViewKind::kProfile);
  };
  stages.measure_plan = [note](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    note("plan");
    return measurements(ViewKind::kPlan);
  };
  stages.judge = [note](const CutterMeasurement& m, const Limits&, ViewKind) {
    note("judge");
    Verdict verdict;
    verdict.action = m.number == 1 ? Action::kLeave : Action::kFile;
    return verdict;
  };
  return stages;
}

TEST(InspectPhoto, PassesTheStagesInOrderAndKeepsWhatEachFound) {
  std::vector<std::string> calls;
  const Inspection done = inspect_photo("a.jpg", {}, {}, willing(&calls));
  EXPECT_THAT(calls, ElementsAre("read", "locate", "profile", "judge", "judge"));
  EXPECT_FALSE(done.refusal);
  EXPECT_EQ(done.photo_path, "a.jpg");
  EXPECT_EQ(done.photo_sha256, "hash of a.jpg");
  EXPECT_EQ(done.program_version, program_version());
  EXPECT_EQ(done.mm_per_px, 0.02);
  ASSERT_EQ(done.cutters.size(), 2U);
  EXPECT_EQ(done.cutters[0].verdict.action, Action::kLeave);
  EXPECT_EQ(done.cutters[1].verdict.action, Action::kFile);
  EXPECT_THAT(done.notes, ElementsAre("from locating", "from measuring"));
}

TEST(InspectPhoto, SaysWhereAJpegIsStronglyCompressed) {
  for (const int quality : {30, 50}) {
    Stages stages = willing();
    stages.read = [quality](const std::filesystem::path&) -> Result<Photo> {
      Photo photo;
      photo.jpeg_quality = quality;
      return photo;
    };
    const Inspection done = inspect_photo("a.jpg", {}, {}, stages);
    EXPECT_EQ(done.cutters.size(), 2U);
    EXPECT_EQ(done.notes.size(), quality < 50 ? 3U : 2U);
    if (quality < 50) {
      EXPECT_THAT(done.notes[1], HasSubstr("JPEG quality about 30"));
    }
  }
}

TEST(InspectPhoto, AFileThatCannotBeReadIsRefusedWithItsReason) {
  Stages stages = willing();
  stages.read = [](const std::filesystem::path&) -> Result<Photo> {
    return Error{Fault::kNotAPicture, "is a text", ""};
  };
  bool seen = false;
  const Inspection done = inspect_photo(
      "a.jpg", {}, [&](const Photo&, const Inspection&) { seen = true; }, stages);
  ASSERT_TRUE(done.refusal);
  EXPECT_EQ(done.refusal->fault, Fault::kNotAPicture);
  EXPECT_EQ(done.refusal->where, "a.jpg");
  EXPECT_FALSE(done.card);
  EXPECT_FALSE(seen) << "there are no pixels to show";
}

TEST(InspectPhoto, WhatWasKnownBeforeARefusalIsKept) {
  Stages stages = willing();
  stages.measure_profile = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    return Error{Fault::kBlurred, "out of focus", ""};
  };
  const Inspection done = inspect_photo("a.jpg", {}, {}, stages);
  ASSERT_TRUE(done.refusal);
  EXPECT_EQ(done.refusal->fault, Fault::kBlurred);
  EXPECT_TRUE(done.card);
  EXPECT_EQ(done.photo_sha256, "hash of a.jpg");
  EXPECT_THAT(done.notes, ElementsAre("from locating"));
  EXPECT_TRUE(done.cutters.empty());
}

TEST(InspectPhoto, TheSetUpsViewIsNotDoubted) {
  for (const ViewKind view : {ViewKind::kProfile, ViewKind::kPlan}) {
    Stages stages = willing();
    stages.measure_profile = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      return no_cutter("from the side");
    };
    stages.measure_plan = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      return no_cutter("from above");
    };
    Order order;
    order.setup.view = view;
    const Inspection done = inspect_photo("a.jpg", order, {}, stages);
    ASSERT_TRUE(done.refusal);
    EXPECT_EQ(done.refusal->what, view == ViewKind::kPlan ? "from above" : "from the side");
    EXPECT_EQ(done.view, view);
  }
}

// Rivet heads beside a top plate pass for a cutter seen from the side, of which nothing can be measured.
TEST(InspectPhoto, AnUntoldViewIsTheOneThatMeasuresACutter) {
  const auto placed = [](ViewKind view) {
    Measurements m = measurements(view);
    for (CutterMeasurement& c : m.cutters) c.length_mm = {};
    return m;
  };
  Stages stages = willing();
  stages.measure_profile = [&](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    return placed(ViewKind::kProfile);
  };
  EXPECT_EQ(inspect_photo("a.jpg", {}, {}, stages).view, ViewKind::kPlan);
  stages.measure_plan = [&](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    return placed(ViewKind::kPlan);
  };
  EXPECT_EQ(inspect_photo("a.jpg", {}, {}, stages).view, ViewKind::kProfile);
}

// From above hardly any heads show: a row of them is a chain on its side, even where its cutter is too dirty to be
// measured.
TEST(InspectPhoto, ARowOfRivetHeadsIsNoPlan) {
  for (const int heads : {3, 6}) {
    Stages stages = willing();
    stages.measure_profile = [&](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      Measurements m = measurements(ViewKind::kProfile);
      for (CutterMeasurement& c : m.cutters) c.length_mm = {};
      m.rivet_heads = heads;
      return m;
    };
    EXPECT_EQ(inspect_photo("a.jpg", {}, {}, stages).view, heads == 3 ? ViewKind::kPlan : ViewKind::kProfile);
  }
}

// Only an edge at an angle that is filed, and known well, speaks against a chain on its side.
TEST(InspectPhoto, ARowOfRivetHeadsGivesWayToAPlainEdge) {
  struct Case {
    double degrees;
    double u_degrees;
    ViewKind view;
  };
  constexpr double kDegree = 3.14159265358979 / 180;
  for (const Case& c :
       {Case{31, 0.2, ViewKind::kPlan}, Case{19, 0.2, ViewKind::kProfile}, Case{31, 0.9, ViewKind::kProfile}}) {
    Stages stages = willing();
    stages.measure_profile = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      Measurements m = measurements(ViewKind::kProfile);
      for (CutterMeasurement& cutter : m.cutters) cutter.length_mm = {};
      m.rivet_heads = 6;
      return m;
    };
    stages.measure_plan = [&](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
      Measurements m = measurements(ViewKind::kPlan);
      for (CutterMeasurement& cutter : m.cutters) {
        cutter.edge_angle_rad = Quantity{c.degrees * kDegree, {{Source::kEdge, c.u_degrees * kDegree}}};
      }
      return m;
    };
    EXPECT_EQ(inspect_photo("a.jpg", {}, {}, stages).view, c.view) << c.degrees << " " << c.u_degrees;
  }
}

TEST(InspectPhoto, AnUntoldViewIsPlanWhereTheSideShowsNoCutter) {
  Stages stages = willing();
  stages.measure_profile = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    return no_cutter("from the side");
  };
  EXPECT_EQ(inspect_photo("a.jpg", {}, {}, stages).view, ViewKind::kPlan);
}

TEST(InspectPhoto, OtherFaultsOfTheProfileAreNotExplainedAwayByThePlan) {
  std::vector<std::string> calls;
  Stages stages = willing(&calls);
  stages.measure_profile = [](const Photo&, const CardPose&, const glintline::Setup&) -> Result<Measurements> {
    return Error{Fault::kBlurred, "out of focus", ""};
  };
  EXPECT_TRUE(inspect_photo("a.jpg", {}, {}, stages).refusal);
  EXPECT_THAT(calls, ElementsAre("read", "locate"));
}

TEST(InspectPhoto, AnExceptionCostsThePhotographOnly) {
  Stages stages = willing();
  stages.judge = [](const CutterMeasurement&, const Limits&, ViewKind) -> Verdict { throw std::bad_alloc(); };
  const Inspection done = inspect_photo("a.jpg", {}, {}, stages);
  ASSERT_TRUE(done.refusal);
  EXPECT_EQ(done.refusal->fault, Fault::kUnforeseen);
  EXPECT_THAT(done.refusal->what, HasSubstr("unforeseen"));
  EXPECT_TRUE(done.cutters.empty()) << "half a result must not look whole";
}

std::string numbered(std::size_t i) { return std::string("p").append(std::to_string(i)); }

std::vector<std::filesystem::path> many(std::size_t count) {
  std::vector<std::filesystem::path> paths;
  for (std::size_t i = 0; i < count; ++i) paths.push_back(numbered(i));
  return paths;
}

TEST(InspectPhotos, ResultsComeInTheOrderGiven) {
  Stages stages = willing();
  const auto read = stages.read;
  stages.read = [read](const std::filesystem::path& path) {
    // The first take longest, so that the order of finishing is another.
    if (path.string().size() < 3) std::this_thread::sleep_for(std::chrono::milliseconds(20));
    return read(path);
  };
  Batch batch;
  batch.workers = 4;
  std::set<std::size_t> finished;
  batch.finished = [&](std::size_t index, const Inspection& done) {
    EXPECT_EQ(done.photo_path, numbered(index));
    finished.insert(index);
  };
  const std::vector<Inspection> all = inspect_photos(many(30), {}, batch, stages);
  ASSERT_EQ(all.size(), 30U);
  for (std::size_t i = 0; i < all.size(); ++i) EXPECT_EQ(all[i].photo_path, numbered(i));
  EXPECT_EQ(finished.size(), 30U);
}

TEST(InspectPhotos, NoMorePhotographsAreHeldThanThereAreWorkers) {
  constexpr unsigned kWorkers = 3;
  std::atomic<int> held{0};
  std::atomic<int> most{0};
  Stages stages = willing();
  const auto read = stages.read;
  stages.read = [&](const std::filesystem::path& path) {
    const int now = ++held;
    int before = most;
    while (before < now && !most.compare_exchange_weak(before, now)) {
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(3));
    return read(path);
  };
  Batch batch;
  batch.workers = kWorkers;
  batch.witness = [&](std::size_t, const Photo&, const Inspection&) { --held; };
  (void)inspect_photos(many(24), {}, batch, stages);
  EXPECT_EQ(held, 0);
  EXPECT_LE(most, static_cast<int>(kWorkers));
  EXPECT_GE(most, 2) << "nothing was worked on side by side";
}

TEST(InspectPhotos, OneBadPhotographDoesNotStopTheOthers) {
  Stages stages = willing();
  const auto read = stages.read;
  stages.read = [read](const std::filesystem::path& path) -> Result<Photo> {
    if (path == "p1") throw std::runtime_error("odd");
    return read(path);
  };
  const std::vector<Inspection> all = inspect_photos(many(3), {}, {}, stages);
  EXPECT_FALSE(all[0].refusal);
  EXPECT_TRUE(all[1].refusal);
  EXPECT_FALSE(all[2].refusal);
}

TEST(InspectPhotos, NoPhotographsGiveNoInspections) { EXPECT_TRUE(inspect_photos({}, {}, {}, willing()).empty()); }

TEST(InspectPhotos, LeaveOpenCvsThreadsAsTheyWere) {
  const int before = cv::getNumThreads();
  (void)inspect_photos(many(4), {}, {}, willing());
  EXPECT_EQ(cv::getNumThreads(), before);
}

}  // namespace
}  // namespace glintline
