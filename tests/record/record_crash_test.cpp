// A writer that is killed at any moment leaves whole inspections or none.
#include <gtest/gtest.h>
#include <signal.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <random>
#include <thread>

#include "record/known_inspection.h"
#include "record/own_server.h"
#include "record/record.h"
#include "record/record_json.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)

constexpr int kCutters = 3;

/// Writes inspections one after the other and says on `pipe` which are done, until it is killed.
[[noreturn]] void write_until_killed(const std::string& where, int round, int pipe) {
  Result<Record> opened = Record::open(where, RecordOpening::kCreateIfAbsent);
  if (!opened.ok()) ::_exit(3);
  Record record = std::move(opened).value();
  for (int i = 0;; ++i) {
    if (!record.add(recorded_chain(std::to_string(round) + "-" + std::to_string(i), kCutters)).ok()) ::_exit(4);
    const char told = '+';
    if (::write(pipe, &told, 1) != 1) ::_exit(5);
  }
}

/// How many inspections the writer had told of when it was killed after `patience`.
int killed_writer(const std::string& where, int round, std::chrono::microseconds patience) {
  int ends[2];
  if (::pipe(ends) != 0) return -1;
  const pid_t writer = ::fork();
  if (writer == 0) {
    ::close(ends[0]);
    write_until_killed(where, round, ends[1]);
  }
  ::close(ends[1]);
  std::this_thread::sleep_for(patience);
  ::kill(writer, SIGKILL);
  int status = 0;
  ::waitpid(writer, &status, 0);
  EXPECT_TRUE(WIFSIGNALED(status)) << "the writer stopped by itself with " << WEXITSTATUS(status);
  int told = 0;
  for (char c; ::read(ends[0], &c, 1) == 1;) ++told;
  ::close(ends[0]);
  return told;
}

int rows(soci::session& session, const std::string& query) {
  int count = -1;
  session << query, soci::into(count);
  return count;
}

/// Every inspection has all its rows, and no row is without its inspection.
void expect_whole(soci::session& session) {
  // One picture for all questions: a killed client's last commit may still be on its way through the server.
  session.begin();
  if (session.get_backend_name() == "postgresql") session << "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ";
  const int inspections = rows(session, "SELECT count(*) FROM glintline_inspections");
  EXPECT_EQ(rows(session, "SELECT count(*) FROM glintline_photographs"), inspections * kCutters);
  EXPECT_EQ(rows(session, "SELECT count(*) FROM glintline_cutters"), inspections * kCutters);
  EXPECT_EQ(rows(session, "SELECT count(*) FROM glintline_values"), inspections * kCutters * 9);
  for (const std::string table : {"glintline_photographs", "glintline_cutters", "glintline_values"}) {
    EXPECT_EQ(rows(session,
                   "SELECT count(*) FROM " + table + " WHERE inspection NOT IN (SELECT id FROM glintline_inspections)"),
              0);
  }
  session.rollback();
}

/// Kills writers at random moments, the first ones while the tables are being made. `table_view` opens the database.
template <typename TableView>
void survive_kills(const std::string& where, int rounds, int most_patience_us, const TableView& table_view) {
  std::mt19937 random(20261126);
  std::uniform_int_distribution<int> patience_us(500, most_patience_us);
  int told = 0;
  for (int round = 0; round < rounds; ++round) {
    told += killed_writer(where, round, std::chrono::microseconds(patience_us(random)));
    Result<Record> record = Record::open(where, RecordOpening::kCreateIfAbsent);
    ASSERT_TRUE(record.ok()) << record.error().what;
    const auto session = table_view();
    expect_whole(*session);
  }
  const auto all = Record::open(where, RecordOpening::kExisting)->inspections("");
  ASSERT_TRUE(all.ok()) << all.error().what;
  EXPECT_GE(static_cast<int>(all->size()), told) << "what was told as done is there";
  EXPECT_LE(static_cast<int>(all->size()), told + rounds) << "at most the last one of each writer went untold";
  for (const RecordedInspection& recorded : *all) {
    EXPECT_EQ(to_json(recorded), to_json(recorded_chain(recorded.id, kCutters)));
  }
  EXPECT_GT(told, 0) << "nothing was written at all: the test did not test";
}

TEST(RecordCrash, AnSqliteRecordHoldsAllOrNothing) {
  const ScratchFolder folder;
  const std::string where = (folder / "record").string();
  survive_kills(where, 40, 60000, [&] { return std::make_unique<soci::session>(soci::sqlite3, "dbname=" + where); });
}

TEST(RecordCrash, APostgresqlRecordHoldsAllOrNothing) {
  if (OwnServer::shared() == nullptr) GTEST_SKIP() << "PostgreSQL's server is not installed";
  const std::string where = OwnServer::shared()->fresh_database();
  const std::string words = where.substr(std::string("postgresql:").size());
  survive_kills(where, 20, 300000, [&] { return std::make_unique<soci::session>(soci::postgresql, words); });
}

}  // namespace
}  // namespace glintline
