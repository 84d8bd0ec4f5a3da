// The demo's two chains through their stages, as a user walks them: inspected, entered, told, drawn.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cli/run_program.h"
#include "record/own_server.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using testing::OwnServer;
using testing::ProgramRun;
using testing::ScratchFolder;
using Words = std::vector<std::string>;

class DemoProgram : public ::testing::Test {
 protected:
  [[nodiscard]] ProgramRun run(const Words& words) const {
    return testing::run_program(
        words, folder_.path().string(),
        {{"GLINTLINE_RECORD", (folder_ / "bench.db").string()}, {"XDG_CACHE_HOME", (folder_ / "cache").string()}});
  }

  /// Inspects the demo's photographs whose names begin so, and enters them. A photograph that cannot be measured is
  /// told by the code 1 or 3; the inspection is entered all the same.
  void enter(const std::string& prefix, const std::string& chain, const std::string& at, const std::string& stage) {
    const fs::path photos = folder_ / prefix;
    fs::create_directories(photos);
    for (const fs::directory_entry& entry : fs::directory_iterator(GLINTLINE_SOURCE_DIR "/samples/demo")) {
      const std::string name = entry.path().filename().string();
      if (name.starts_with(prefix) && entry.path().extension() == ".jpg") fs::copy(entry.path(), photos);
    }
    const fs::path sheet = folder_.file(chain + ".toml", "name = \"" + chain + "\"\n");
    const ProgramRun entered =
        run({"inspect", "--chain", sheet.string(), "--at", at, "--stage", stage, photos.string()});
    EXPECT_THAT(entered.code, ::testing::AnyOf(0, 1, 3)) << entered.err;
  }

  void enter_all() {
    enter("ridge-new", "Ridge loop", "2026-09-01", "new");
    enter("ridge-worked", "Ridge loop", "2026-09-20", "after clean work");
    enter("ridge-stone", "Ridge loop", "2026-10-12T15:00", "after a stone");
    enter("ridge-filed", "Ridge loop", "2026-10-12T17:30", "after filing");
    enter("brook-stone", "Brook loop", "2026-10-12T15:00", "after a stone");
    enter("brook-filed", "Brook loop", "2026-10-12T17:30", "after filing");
    EXPECT_EQ(run({"event", "job", "Ridge loop", "--hours", "6", "--dirt", "--at", "2026-10-12T12:00"}).code, 0);
    EXPECT_EQ(run({"event", "filing", "Ridge loop", "--who", "Kim", "--at", "2026-10-12T16:30"}).code, 0);
  }

  ScratchFolder folder_;
};

TEST_F(DemoProgram, ItsStagesAreRecordedToldAndDrawnAndASecondBenchSeesTheSame) {
  enter_all();
  const ProgramRun history = run({"history"});
  EXPECT_EQ(history.code, 0) << history.err;
  for (const char* told : {"new: 1 cutter", "after clean work: ", "after a stone: ", "after filing: ", "filed by Kim", "a filing took ",
                           "Chain against chain"}) {
    EXPECT_THAT(history.out, HasSubstr(told));
  }
  const ProgramRun report =
      run({"report", "Ridge loop", "--since", "after a stone", "--same-card", "--output", "ridge.html"});
  EXPECT_EQ(report.code, 0) << report.err;
  const std::string page = testing::text_of(folder_ / "ridge.html");
  for (const char* shown : {"Before and after", "This chain's life", "data:image/jpeg;base64,", "after filing",
                            "before: ridge-stone-plan-"}) {
    EXPECT_THAT(page, HasSubstr(shown));
  }
  EXPECT_NE(run({"report", "Ridge loop", "--since", "never"}).code, 0);

  if (OwnServer::shared() == nullptr) GTEST_SKIP() << "PostgreSQL's server is not installed";
  const std::string server = OwnServer::shared()->fresh_database();
  ASSERT_EQ(run({"record", "export", "all.jsonl"}).code, 0);
  ASSERT_EQ(run({"record", "import", "all.jsonl", "--record", server}).code, 0);
  EXPECT_EQ(run({"history", "--record", server}).out, history.out);
  ASSERT_EQ(run({"report", "Ridge loop", "--since", "after a stone", "--same-card", "--output", "server.html",
                 "--record", server})
                .code,
            0);
  EXPECT_EQ(testing::text_of(folder_ / "server.html"), page);
}

}  // namespace
}  // namespace glintline
