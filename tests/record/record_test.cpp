// The same tests on an SQLite file and on a PostgreSQL server that the tests start themselves.
#include "record/record.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <soci/postgresql/soci-postgresql.h>
#include <soci/soci.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <thread>

#include "record/known_inspection.h"
#include "record/own_server.h"
#include "record/record_json.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

using namespace testing;  // NOLINT(google-build-using-namespace)
using ::testing::ElementsAre;
using ::testing::HasSubstr;
using ::testing::Not;

class RecordOn : public ::testing::TestWithParam<const char*> {
 protected:
  void SetUp() override {
    where_ = (folder_ / "a bench's record").string();
    if (std::string(GetParam()) == "SQLite") return;
    if (OwnServer::shared() == nullptr) GTEST_SKIP() << "PostgreSQL's server is not installed";
    where_ = OwnServer::shared()->fresh_database();
    ASSERT_FALSE(where_.empty());
  }

  [[nodiscard]] Record opened() const { return Record::open(where_, RecordOpening::kCreateIfAbsent).value(); }

  /// A view of the tables past our own code.
  [[nodiscard]] std::unique_ptr<soci::session> tables() const {
    if (std::string(GetParam()) == "SQLite") {
      return std::make_unique<soci::session>(soci::sqlite3, "dbname=\"" + where_ + "\"");
    }
    return std::make_unique<soci::session>(soci::postgresql, where_.substr(std::string("postgresql:").size()));
  }

  [[nodiscard]] int count(const std::string& table) const {
    int rows = -1;
    *tables() << "SELECT count(*) FROM " << table, soci::into(rows);
    return rows;
  }

  ScratchFolder folder_;
  std::string where_;
};

INSTANTIATE_TEST_SUITE_P(Databases, RecordOn, ::testing::Values("SQLite", "PostgreSQL"),
                         [](const auto& info) { return std::string(info.param); });

ChainEvent job(const std::string& id, const std::string& at, const std::string& chain = "Bench loop 1") {
  return {id, chain, at, Job{1.5, {}, {}, "beech", true, false}, "it's \"dirty\"; DROP TABLE glintline_events"};
}

Record opened_again(const std::string& where) { return Record::open(where, RecordOpening::kExisting).value(); }

std::vector<std::string> lines_of(const Record& record) {
  std::vector<std::string> lines;
  EXPECT_TRUE(record
                  .each_line([&](std::string_view line) {
                    lines.emplace_back(line);
                    return Result<Done>(Done{});
                  })
                  .ok());
  return lines;
}

TEST_P(RecordOn, GivesBackExactlyWhatWentIn) {
  const RecordedInspection inspection = recorded_chain("i1", 4);
  {
    Record record = opened();
    ASSERT_TRUE(record.add(inspection).ok());
    ASSERT_TRUE(record.add(job("e1", "2026-11-01")).ok());
  }
  const Record record = opened_again(where_);
  const auto inspections = record.inspections("Bench loop 1");
  ASSERT_TRUE(inspections.ok()) << inspections.error().what;
  ASSERT_EQ(inspections->size(), 1U);
  EXPECT_EQ(to_json(inspections->front()), to_json(inspection));
  const auto events = record.events("");
  ASSERT_TRUE(events.ok()) << events.error().what;
  ASSERT_EQ(events->size(), 1U);
  EXPECT_EQ(to_json(events->front()), to_json(job("e1", "2026-11-01")));
  EXPECT_TRUE(record.inspections("another")->empty());
  EXPECT_THAT(*record.chains(), ElementsAre("Bench loop 1"));
}

TEST_P(RecordOn, ColumnsSayWhatTheDocumentSays) {
  const RecordedInspection inspection = recorded_chain("i1", 2);
  ASSERT_TRUE(opened().add(inspection).ok());
  EXPECT_EQ(count("glintline_photographs"), 2);
  EXPECT_EQ(count("glintline_cutters"), 2);
  EXPECT_EQ(count("glintline_values"), 2 * 9);
  double value = 0;
  double u95 = 0;
  const auto session = tables();
  *session << "SELECT value, u95 FROM glintline_values WHERE number = 2 AND quantity = 'gauge_drop'", soci::into(value),
      soci::into(u95);
  const Quantity& drop = *inspection.inspection.cutters[1].measured.gauge_drop_mm;
  EXPECT_NEAR(value, drop.value, 1e-12);
  EXPECT_NEAR(u95, 2 * drop.u(), 1e-12);
  std::string sha;
  *session << "SELECT sha256 FROM glintline_photographs WHERE place = 1", soci::into(sha);
  EXPECT_EQ(sha, inspection.inspection.photos[1].photo_sha256);
}

TEST_P(RecordOn, ComesInOrderOfTimeWhateverTheOrderOfEntry) {
  Record record = opened();
  for (const char* at : {"2026-11-02T09:00", "2026-11-02", "2025-12-31", "2026-11-10"}) {
    ASSERT_TRUE(record.add(job(std::string("e ") + at, at)).ok());
  }
  std::vector<std::string> times;
  const auto events = record.events("Bench loop 1");
  for (const ChainEvent& event : *events) times.push_back(event.at);
  EXPECT_THAT(times, ElementsAre("2025-12-31", "2026-11-02", "2026-11-02T09:00", "2026-11-10"));
}

TEST_P(RecordOn, ExportedLinesMakeTheSameRecordAgain) {
  Record record = opened();
  ASSERT_TRUE(record.add(recorded_chain("i1")).ok());
  ASSERT_TRUE(record.add(recorded_chain("i2")).ok());
  ASSERT_TRUE(record.add(job("e1", "2026-11-02T14:30")).ok());
  const std::vector<std::string> lines = lines_of(record);
  ASSERT_EQ(lines.size(), 3U);
  EXPECT_THAT(lines[2], HasSubstr("glintline event")) << "inspections come first";

  Record other = Record::open((folder_ / "other.db").string(), RecordOpening::kCreateIfAbsent).value();
  for (const std::string& line : lines) EXPECT_EQ(other.add_line(line)->added, 1);
  EXPECT_EQ(lines_of(other), lines);
  for (const std::string& line : lines) EXPECT_EQ(other.add_line(line)->already_there, 1) << "twice adds nothing";
  EXPECT_EQ(lines_of(other), lines);
}

TEST_P(RecordOn, AnIdIsNeverGivenOtherContent) {
  Record record = opened();
  ASSERT_TRUE(record.add(recorded_chain("i1", 2)).ok());
  const std::vector<std::string> before = lines_of(record);
  const Result<Done> clash = record.add(recorded_chain("i1", 3));
  ASSERT_FALSE(clash.ok());
  EXPECT_EQ(clash.error().fault, Fault::kBadOption);
  EXPECT_THAT(clash.error().what, HasSubstr("i1"));
  EXPECT_EQ(lines_of(record), before);
  EXPECT_EQ(count("glintline_cutters"), 2);
}

TEST_P(RecordOn, WhatTheDatabasesDoNotHoldAlikeIsRefused) {
  Record record = opened();
  for (ChainEvent event : {job("", "2026-11-02"), job("e1", ""), job("e1", "2026-11-02", ""),
                           job("e1", "2026-11-02", "a\nb"), job("e1", "2026-11-02", "\xFF")}) {
    const Result<Done> refused = record.add(event);
    ASSERT_FALSE(refused.ok());
    EXPECT_EQ(refused.error().fault, Fault::kBadOption);
  }
  EXPECT_TRUE(lines_of(record).empty());
}

TEST_P(RecordOn, AnOlderRecordIsBroughtUpToDate) {
  {
    Record old = Record::open_at_version(where_, RecordOpening::kCreateIfAbsent, 1).value();
    ASSERT_TRUE(old.add(recorded_chain("i1", 2)).ok());
    ASSERT_TRUE(old.add(recorded_chain("i2", 3)).ok());
  }
  EXPECT_ANY_THROW((void)count("glintline_values")) << "the older schema had no such table";
  const Record record = opened_again(where_);
  EXPECT_EQ(count("glintline_values"), (2 + 3) * 9);
  EXPECT_EQ(to_json((*record.inspections(""))[1]), to_json(recorded_chain("i2", 3)));
}

TEST_P(RecordOn, ANewerRecordIsRefusedAndLeftAsItIs) {
  Record open_before = opened();
  ASSERT_TRUE(open_before.add(job("e1", "2026-11-02")).ok());
  *tables() << "UPDATE glintline_schema SET version = 3";
  const Result<Record> refused = Record::open(where_, RecordOpening::kCreateIfAbsent);
  ASSERT_FALSE(refused.ok());
  EXPECT_THAT(refused.error().what, HasSubstr("update glintline"));
  const Result<Done> late = open_before.add(job("e2", "2026-11-02"));
  ASSERT_FALSE(late.ok()) << "also where it grew newer under an open hand";
  EXPECT_EQ(count("glintline_events"), 1);
  EXPECT_EQ(count("glintline_schema"), 1);
}

TEST_P(RecordOn, ManyWritersAtOnceLoseNothing) {
  constexpr int kWriters = 4;
  constexpr int kEach = 12;
  std::vector<std::thread> writers;
  std::vector<std::string> complaints(kWriters);
  for (int writer = 0; writer < kWriters; ++writer) {
    writers.emplace_back([&, writer] {
      // All open the record before it exists: its tables are made once.
      Result<Record> record = Record::open(where_, RecordOpening::kCreateIfAbsent);
      if (!record.ok()) {
        complaints[writer] = record.error().what;
        return;
      }
      Record own = std::move(record).value();
      for (int i = 0; i < kEach; ++i) {
        const std::string id = std::to_string(writer) + "-" + std::to_string(i);
        const Result<Done> added = i % 2 ? own.add(job(id, "2026-11-02")) : own.add(recorded_chain(id, 2));
        if (!added.ok()) complaints[writer] = added.error().what;
      }
    });
  }
  for (std::thread& writer : writers) writer.join();
  for (const std::string& complaint : complaints) EXPECT_EQ(complaint, "");
  const Record record = opened_again(where_);
  EXPECT_EQ(record.events("")->size(), static_cast<std::size_t>(kWriters * kEach / 2));
  EXPECT_EQ(record.inspections("")->size(), static_cast<std::size_t>(kWriters * kEach / 2));
  EXPECT_EQ(count("glintline_cutters"), kWriters * kEach);
}

TEST(RecordFile, OpenersAtOnceDoNotTakeEachOthersTablesForForeignOnes) {
  const ScratchFolder folder;
  for (int round = 0; round < 60; ++round) {
    const std::string where = (folder / std::to_string(round)).string();
    std::vector<std::thread> openers;
    std::vector<std::string> complaints(4);
    for (std::string& complaint : complaints) {
      openers.emplace_back([&] {
        const Result<Record> record = Record::open(where, RecordOpening::kCreateIfAbsent);
        if (!record.ok()) complaint = record.error().what;
      });
    }
    for (std::thread& opener : openers) opener.join();
    for (const std::string& complaint : complaints) EXPECT_EQ(complaint, "");
  }
}

TEST(RecordFile, WhatIsNoRecordIsRefusedAndLeftAsItIs) {
  const ScratchFolder folder;
  const auto refusal = [](const std::string& where, RecordOpening opening) {
    const Result<Record> record = Record::open(where, opening);
    EXPECT_FALSE(record.ok()) << where;
    return record.ok() ? "" : record.error().what;
  };
  const std::string text = folder.file("letter", std::string(5000, 'x')).string();
  EXPECT_THAT(refusal(text, RecordOpening::kCreateIfAbsent), HasSubstr("no glintline record"));
  EXPECT_EQ(text_of(text), std::string(5000, 'x'));
  EXPECT_THAT(refusal((folder / "none").string(), RecordOpening::kExisting), HasSubstr("no such record"));
  EXPECT_FALSE(std::filesystem::exists(folder / "none"));
  EXPECT_THAT(refusal(folder.path().string(), RecordOpening::kCreateIfAbsent), HasSubstr("folder"));
  EXPECT_NE(refusal((folder / "no" / "such").string(), RecordOpening::kCreateIfAbsent), "");
  const std::string foreign = (folder / "foreign").string();
  soci::session(soci::sqlite3, "dbname=" + foreign) << "CREATE TABLE songs (title TEXT)";
  EXPECT_THAT(refusal(foreign, RecordOpening::kCreateIfAbsent), HasSubstr("no glintline record"));
}

TEST(RecordServer, AServerThatIsNotThereIsToldWithoutThePassword) {
  const Result<Record> record =
      Record::open("postgresql:host=/no/such/folder user=bench password=secret7", RecordOpening::kExisting);
  ASSERT_FALSE(record.ok());
  EXPECT_THAT(record.error().what + record.error().where, Not(HasSubstr("secret7")));
  EXPECT_THAT(record.error().what, Not(HasSubstr("\n")));
}

}  // namespace
}  // namespace glintline
