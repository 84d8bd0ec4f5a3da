#include "report/written_file.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <csignal>

#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using testing::ScratchFolder;
using testing::text_of;

int files_in(const fs::path& folder) {
  return static_cast<int>(std::distance(fs::directory_iterator(folder), fs::directory_iterator()));
}

TEST(WriteFile, WritesAndReplacesWhole) {
  const ScratchFolder folder;
  ASSERT_TRUE(write_file(folder / "a", "first, longer").ok());
  ASSERT_TRUE(write_file(folder / "a", "second").ok());
  EXPECT_EQ(text_of(folder / "a"), "second");
  EXPECT_EQ(files_in(folder.path()), 1);
}

TEST(WriteFile, ANewFileIsReadableByWhomTheUmaskAllows) {
  const ScratchFolder folder;
  const mode_t before = ::umask(022);
  ASSERT_TRUE(write_file(folder / "a", "x").ok());
  ::umask(before);
  struct stat there {};
  ::stat((folder / "a").c_str(), &there);
  EXPECT_EQ(there.st_mode & 0777, 0644U);
}

TEST(WriteFile, ALinkKeepsPointingWhereItDid) {
  const ScratchFolder folder;
  folder.file("real", "old");
  fs::create_symlink(folder / "real", folder / "link");
  ASSERT_TRUE(write_file(folder / "link", "new").ok());
  EXPECT_TRUE(fs::is_symlink(folder / "link"));
  EXPECT_EQ(text_of(folder / "real"), "new");
}

TEST(WriteFile, SaysWhereItCouldNotWrite) {
  const ScratchFolder folder;
  for (const fs::path& path : {folder / "no/a", folder.path(), fs::path("/dev/full")}) {
    const Result<Done> written = write_file(path, "x");
    ASSERT_FALSE(written.ok()) << path;
    EXPECT_EQ(written.error().fault, Fault::kCannotWrite);
    EXPECT_EQ(written.error().where, path.string());
  }
}

// A file-size limit stands in for a full disk: the same write fails half-way.
TEST(WriteFile, AFailureHalfWayKeepsWhatWasThere) {
  const ScratchFolder folder;
  folder.file("a", "kept");
  std::signal(SIGXFSZ, SIG_IGN);
  rlimit before{};
  ::getrlimit(RLIMIT_FSIZE, &before);
  const rlimit small{1000, before.rlim_max};
  ::setrlimit(RLIMIT_FSIZE, &small);
  const Result<Done> written = write_file(folder / "a", std::string(5000, 'x'));
  ::setrlimit(RLIMIT_FSIZE, &before);
  EXPECT_FALSE(written.ok());
  EXPECT_EQ(text_of(folder / "a"), "kept");
  EXPECT_EQ(files_in(folder.path()), 1);
}

TEST(MakeFolder, MakesAllThatIsMissing) {
  const ScratchFolder folder;
  EXPECT_TRUE(make_folder(folder / "a/b").ok());
  EXPECT_TRUE(make_folder(folder / "a/b").ok()) << "a second time is no fault";
  folder.file("file", "x");
  EXPECT_FALSE(make_folder(folder / "file").ok());
  EXPECT_FALSE(make_folder(folder / "file/below").ok());
}

}  // namespace
}  // namespace glintline
