// The commands that work on the record, as a shell meets them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "cli/exit_code.h"
#include "cli/run_program.h"
#include "pipeline/inspect.h"
#include "record/own_server.h"
#include "record/record.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using testing::OwnServer;
using testing::ProgramRun;
using testing::ScratchFolder;
using testing::text_of;
using Words = std::vector<std::string>;

int as_int(ExitCode code) { return static_cast<int>(code); }

/// A committed photograph that shows a cutter, looked at by the program's own stages, as a chain of one cutter.
RecordedInspection inspected_sample(const std::string& at, const std::string& stage, const std::string& photo) {
  RecordedInspection recorded{"id " + at, "Bench loop 1", at, stage, program_version(), {}};
  ChainInspection& inspection = recorded.inspection;
  inspection.photos = {inspect_photo(photo, {})};
  JoinedCutter cutter;
  cutter.number = 1;
  cutter.sightings = {{0, 0}};
  if (!inspection.photos[0].cutters.empty()) {
    cutter.measured = inspection.photos[0].cutters[0].measured;
    cutter.measured.marks.clear();
    cutter.verdict = inspection.photos[0].cutters[0].verdict;
  }
  inspection.cutters = {cutter};
  inspection.verdict.action = ChainAction::kFile;
  return recorded;
}

/// A profile photograph of the committed samples.
std::string sample_photo() {
  std::vector<std::string> photos;
  for (const fs::directory_entry& entry : fs::directory_iterator(GLINTLINE_SOURCE_DIR "/samples/photos")) {
    const std::string name = entry.path().string();
    if (entry.path().extension() == ".jpg" && name.find("profile") != std::string::npos) photos.push_back(name);
  }
  std::sort(photos.begin(), photos.end());
  return photos.empty() ? "" : photos.front();
}

class RecordProgram : public ::testing::Test {
 protected:
  [[nodiscard]] ProgramRun run(const Words& words) const {
    return testing::run_program(words, folder_.path().string(), {{"GLINTLINE_RECORD", record_}});
  }
  [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }

  ScratchFolder folder_;
  std::string record_ = (folder_ / "bench.db").string();
};

TEST_F(RecordProgram, EventsAreKeptAndToldInTradeWords) {
  EXPECT_EQ(
      run({"event", "bought", "Bench loop 1", "--price", "24.90", "--currency", "EUR", "--at", "2026-10-01"}).code, 0);
  const ProgramRun job = run({"event", "job", "Bench loop 1", "--hours", "1.5", "--tanks", "2", "--wood", "beech",
                              "--dirt", "--at", "2026-11-01 16:00"});
  EXPECT_EQ(job.code, 0) << job.err;
  EXPECT_THAT(job.out, HasSubstr("job: 1.5 h, 2 tanks, beech, touched dirt"));
  EXPECT_EQ(run({"event", "filing", "Bench loop 1", "--who", "Kim", "--strokes", "4", "--strokes-on", "7:9", "--cost",
                 "3", "--at", "2026-11-02"})
                .code,
            0);
  EXPECT_EQ(
      run({"event", "cut", "Bench loop 1", "--seconds", "17.6", "--section", "491+-10", "--at", "2026-10-02"}).code, 0);
  const ProgramRun list = run({"record", "list"});
  EXPECT_EQ(list.code, 0) << list.err;
  EXPECT_LT(list.out.find("bought for 24.90 EUR"), list.out.find("491 cm² in 17.6 s"));
  EXPECT_LT(list.out.find("491 cm² in 17.6 s"), list.out.find("2026-11-01T16:00"));
  EXPECT_THAT(list.out, HasSubstr("filed by Kim, 4 strokes a cutter, cutter 7: 9, cost 3"));
  const ProgramRun history = run({"history"});
  EXPECT_EQ(history.code, 0) << history.err;
  EXPECT_THAT(history.out, HasSubstr("cost so far 18.60 EUR an hour"));
  EXPECT_THAT(history.out, HasSubstr("cut 27.9 ± 0.9 cm²/s"));
}

TEST_F(RecordProgram, SenselessUseGetsOneLineAndLosesNothing) {
  ASSERT_EQ(run({"event", "job", "loop", "--hours", "1"}).code, 0);
  const std::string before = run({"record", "list"}).out;
  const std::vector<Words> senseless = {
      {"event"},
      {"event", "job"},
      {"event", "job", "loop"},
      {"event", "job", "loop", "--hours", "-1"},
      {"event", "job", "loop", "--hours", "much"},
      {"event", "job", "loop", "--hours", "nan"},
      {"event", "job", "loop", "--hours", "1", "--at", "2026-02-30"},
      {"event", "job", "loop", "--hours", "1", "--at", "yesterday"},
      {"event", "job", "", "--hours", "1"},
      {"event", "filing", "loop", "--strokes-on", "7"},
      {"event", "bought", "loop", "--price", "-3"},
      {"event", "cut", "loop", "--seconds", "0", "--section", "491"},
      {"event", "cut", "loop", "--seconds", "5", "--section", "big"},
      {"history", "no such chain"},
      {"report", "no such chain"},
      {"report", "loop"},
      {"record", "import", path("none.jsonl")},
      {"record", "list", "--record", path("none.db")},
      {"record", "list", "--record", "postgresql:host=/no/such/folder"},
  };
  for (const Words& words : senseless) {
    const ProgramRun failed = run(words);
    const std::string said = words.back();
    EXPECT_EQ(failed.code, as_int(ExitCode::kUsage)) << said << failed.out;
    EXPECT_THAT(failed.out, IsEmpty()) << said;
    EXPECT_EQ(std::count(failed.err.begin(), failed.err.end(), '\n'), 1) << said << ": " << failed.err;
  }
  EXPECT_EQ(run({"record", "list"}).out, before);
}

TEST_F(RecordProgram, AReportIsDrawnAgainFromTheRecordWithItsCloseUps) {
  ASSERT_FALSE(sample_photo().empty());
  fs::copy_file(sample_photo(), folder_ / "c1.jpg");
  {
    Record record = Record::open(record_, RecordOpening::kCreateIfAbsent).value();
    const RecordedInspection recorded = inspected_sample("2026-11-02", "after dirt", path("c1.jpg"));
    ASSERT_FALSE(recorded.inspection.photos[0].cutters.empty());
    ASSERT_TRUE(record.add(recorded).ok());
    ASSERT_TRUE(record.add(inspected_sample("2026-10-01", "new", path("c1.jpg"))).ok());
  }
  const ProgramRun report = run({"report", "--output", "page.html"});
  EXPECT_EQ(report.code, 0) << report.err;
  EXPECT_THAT(report.err, IsEmpty());
  EXPECT_THAT(report.out, HasSubstr("Report with 1 close-up"));
  const std::string page = text_of(folder_ / "page.html");
  EXPECT_THAT(page, HasSubstr("data:image/jpeg;base64,"));
  EXPECT_THAT(page, HasSubstr("c1.jpg, from the side"));
  EXPECT_THAT(page, HasSubstr("This chain's life"));
  EXPECT_THAT(run({"report", "--stage", "new"}).out, HasSubstr("Bench-loop-1-2026-10-01.html"));

  folder_.file("c1.jpg", "another picture");
  const ProgramRun later = run({"report", "--output", "later.html"});
  EXPECT_EQ(later.code, 0) << "the values are in the record";
  EXPECT_THAT(later.err, HasSubstr("c1.jpg"));
  EXPECT_THAT(later.out, HasSubstr("0 close-ups"));
  EXPECT_EQ(run({"report", "--output", path("no/such/page.html")}).code, as_int(ExitCode::kCannotWrite));
}

TEST_F(RecordProgram, ASecondBenchOnAServerSeesTheSame) {
  if (OwnServer::shared() == nullptr) GTEST_SKIP() << "PostgreSQL's server is not installed";
  const std::string server = OwnServer::shared()->fresh_database();
  {
    Record record = Record::open(record_, RecordOpening::kCreateIfAbsent).value();
    ASSERT_TRUE(record.add(inspected_sample("2026-10-01", "new", sample_photo())).ok());
    ASSERT_TRUE(record.add(inspected_sample("2026-11-02", "after dirt", sample_photo())).ok());
  }
  ASSERT_EQ(run({"event", "job", "Bench loop 1", "--hours", "3", "--at", "2026-10-20"}).code, 0);
  EXPECT_EQ(run({"record", "export", "all.jsonl"}).code, 0);
  const ProgramRun import = run({"record", "import", "all.jsonl", "--record", server});
  EXPECT_EQ(import.code, 0) << import.err;
  EXPECT_THAT(import.out, HasSubstr("3 lines added"));
  EXPECT_THAT(run({"record", "import", "all.jsonl", "--record", server}).out, HasSubstr("3 there already"));
  for (const Words& command : {Words{"record", "list"}, Words{"history"}, Words{"record", "export", "-"}}) {
    Words on_server = command;
    on_server.insert(on_server.end(), {"--record", server});
    const ProgramRun here = run(command);
    EXPECT_EQ(here.code, 0) << here.err;
    EXPECT_EQ(run(on_server).out, here.out) << command.front();
  }
}

TEST_F(RecordProgram, ABadLineOfAnImportIsToldAndTheOthersGoOn) {
  ASSERT_EQ(run({"event", "job", "loop", "--hours", "1"}).code, 0);
  ASSERT_EQ(run({"event", "job", "loop", "--hours", "2"}).code, 0);
  ASSERT_EQ(run({"record", "export", "all.jsonl"}).code, 0);
  const std::string lines = text_of(folder_ / "all.jsonl");
  const std::size_t middle = lines.find('\n') + 1;
  folder_.file("torn.jsonl", lines.substr(0, middle) + "{\"form\": \"letter\"}\n" + lines.substr(middle, 40) + "\n" +
                                 lines.substr(middle));
  const ProgramRun import = run({"record", "import", "torn.jsonl", "--record", path("other.db")});
  EXPECT_EQ(import.code, as_int(ExitCode::kUsage));
  EXPECT_THAT(import.out, HasSubstr("2 lines added"));
  EXPECT_THAT(import.err, HasSubstr("torn.jsonl, line 2: "));
  EXPECT_THAT(import.err, HasSubstr("torn.jsonl, line 3: "));
}

TEST(RecordPlace, IsTheUsersOwnFileWhereNothingIsSaid) {
  const ScratchFolder home;
  const std::string folder = home.path().string();
  const std::map<std::string, std::string> variables = {{"GLINTLINE_RECORD", ""}, {"XDG_DATA_HOME", folder + "/data"}};
  EXPECT_EQ(testing::run_program({"event", "job", "loop", "--hours", "1"}, folder, variables).code, 0);
  EXPECT_TRUE(fs::exists(home / "data" / "glintline" / "record.db"));
}

}  // namespace
}  // namespace glintline
