// The rooms under src/ and who may know whom. CMake links a room to its neighbours' neighbours without a word, so the
// arrows are checked on the sources themselves.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::Contains;
using ::testing::IsEmpty;

using Rooms = std::map<std::string, std::set<std::string>>;

const std::set<std::string> kModelAndBelow = {"model", "math", "base"};

std::set<std::string> with(std::set<std::string> rooms, const std::set<std::string>& more) {
  rooms.insert(more.begin(), more.end());
  return rooms;
}

/// What each room may include besides its own headers.
const Rooms& allowed() {
  static const Rooms rooms = [] {
    Rooms all{{"base", {}},
              {"math", {"base"}},
              {"model", {"math", "base"}},
              {"card", kModelAndBelow},
              {"read", kModelAndBelow},
              {"locate", with(kModelAndBelow, {"card"})},
              {"trace", kModelAndBelow},
              {"measure", kModelAndBelow},
              {"judge", kModelAndBelow},
              {"record", kModelAndBelow},
              {"report", kModelAndBelow}};
    all["pipeline"] = with(kModelAndBelow, {"card", "read", "locate", "trace", "measure", "judge", "record", "report"});
    // The command line hands options to the stages' readers and results to the report, so it knows what pipeline knows.
    all["cli"] = with(all["pipeline"], {"pipeline"});
    return all;
  }();
  return rooms;
}

fs::path source_folder() { return fs::path(GLINTLINE_SOURCE_DIR) / "src"; }

std::string text_of(const fs::path& path) {
  std::ifstream file(path);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

struct SourceFile {
  std::string room;
  std::string name;  ///< relative to src/
  std::string text;
};

std::vector<SourceFile> sources_in(const fs::path& folder) {
  std::vector<SourceFile> files;
  for (const fs::directory_entry& entry : fs::recursive_directory_iterator(folder)) {
    const fs::path extension = entry.path().extension();
    if (extension != ".h" && extension != ".cpp") continue;
    const fs::path name = fs::relative(entry.path(), folder);
    files.push_back({name.begin()->string(), name.generic_string(), text_of(entry.path())});
  }
  return files;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

/// What stands between the quotes or brackets of each #include.
std::vector<std::string> includes_of(const std::string& text) {
  std::vector<std::string> names;
  for (std::string line : lines_of(text)) {
    std::erase_if(line, [](char c) { return c == ' ' || c == '\t'; });
    if (!line.starts_with("#include")) continue;
    const std::size_t first = line.find_first_of("\"<");
    const std::size_t last = line.find_last_of("\">");
    if (first != std::string::npos && last > first) names.push_back(line.substr(first + 1, last - first - 1));
  }
  return names;
}

std::string first_folder(const std::string& include) { return include.substr(0, include.find('/')); }

/// "trace/x.cpp includes measure/y.h"
std::vector<std::string> against_the_arrows(const std::vector<SourceFile>& files, const Rooms& arrows) {
  std::vector<std::string> offences;
  for (const SourceFile& file : files) {
    const auto room = arrows.find(file.room);
    if (room == arrows.end()) {
      offences.push_back(file.name + " stands in a room without arrows");
      continue;
    }
    for (const std::string& include : includes_of(file.text)) {
      const std::string other = first_folder(include);
      if (arrows.count(other) == 0 || other == file.room || room->second.count(other) > 0) continue;
      offences.push_back(file.name + " includes " + include);
    }
  }
  return offences;
}

/// A header that comes back to itself over others, as the path it takes; empty where there is none.
std::vector<std::string> cycle_in(const std::map<std::string, std::vector<std::string>>& graph) {
  std::set<std::string> done;
  std::vector<std::string> path;
  std::function<bool(const std::string&)> visit = [&](const std::string& node) {
    if (std::find(path.begin(), path.end(), node) != path.end()) {
      path.push_back(node);
      return true;
    }
    if (done.count(node) > 0) return false;
    path.push_back(node);
    const auto edges = graph.find(node);
    if (edges != graph.end()) {
      for (const std::string& next : edges->second) {
        if (visit(next)) return true;
      }
    }
    path.pop_back();
    done.insert(node);
    return false;
  };
  for (const auto& [node, edges] : graph) {
    if (visit(node)) return path;
  }
  return {};
}

std::map<std::string, std::vector<std::string>> include_graph(const std::vector<SourceFile>& files) {
  std::map<std::string, std::vector<std::string>> graph;
  for (const SourceFile& file : files) graph[file.name] = includes_of(file.text);
  return graph;
}

/// Types that a header declares with a body at namespace level: lines that start at the margin.
std::vector<std::string> types_of(const std::string& header) {
  std::vector<std::string> names;
  for (const std::string& line : lines_of(header)) {
    if (line.find('{') == std::string::npos) continue;
    for (const std::string keyword : {"class ", "struct ", "enum class "}) {
      if (!line.starts_with(keyword)) continue;
      const std::string rest = line.substr(keyword.size());
      names.push_back(rest.substr(0, rest.find_first_of(" :{")));
    }
  }
  return names;
}

/// The words of a list file, comments left out.
std::set<std::string> words_of(const std::string& text) {
  std::set<std::string> words;
  for (const std::string& line : lines_of(text)) {
    std::string code = line.substr(0, line.find('#'));
    std::replace_if(
        code.begin(), code.end(), [](char c) { return c == '(' || c == ')'; }, ' ');
    std::istringstream stream(code);
    for (std::string word; stream >> word;) words.insert(word);
  }
  return words;
}

TEST(House, TheSourcesAreThere) { EXPECT_GT(sources_in(source_folder()).size(), 20U); }

TEST(House, RoomsKnowOnlyWhomTheyMay) {
  EXPECT_THAT(against_the_arrows(sources_in(source_folder()), allowed()), IsEmpty());
}

TEST(House, NothingIncludesItselfByADetour) {
  EXPECT_THAT(cycle_in(include_graph(sources_in(source_folder()))), IsEmpty());
}

TEST(House, JudgeKnowsNoPictures) {
  for (const SourceFile& file : sources_in(source_folder())) {
    if (file.room != "judge") continue;
    for (const std::string& include : includes_of(file.text)) {
      EXPECT_NE(first_folder(include), "opencv2") << file.name;
    }
  }
}

TEST(House, NobodyLinksOpenCvsSlowParts) {
  for (const SourceFile& file : sources_in(source_folder())) {
    for (const std::string& include : includes_of(file.text)) {
      EXPECT_THAT(include, ::testing::Not(::testing::MatchesRegex("opencv2/(imgcodecs|highgui|videoio).*")))
          << file.name << ": Debian's imgcodecs pulls in GDAL and some hundred libraries";
    }
  }
}

TEST(House, EverySourceIsBuilt) {
  for (const SourceFile& file : sources_in(source_folder())) {
    const fs::path path = source_folder() / file.name;
    if (path.extension() != ".cpp") continue;
    const fs::path room = source_folder() / file.room;
    EXPECT_EQ(words_of(text_of(room / "CMakeLists.txt")).count(fs::relative(path, room).generic_string()), 1U)
        << file.name << " is in no list";
  }
}

TEST(House, EveryHeaderIsGuarded) {
  for (const SourceFile& file : sources_in(source_folder())) {
    if (fs::path(file.name).extension() != ".h") continue;
    EXPECT_EQ(file.text.rfind("#pragma once", 0), 0U) << file.name;
  }
}

// Two rooms that each have a type of one name in one namespace link without a word and then use each other's code.
TEST(House, NoTypeIsDeclaredTwice) {
  std::map<std::string, std::vector<std::string>> declared;
  for (const SourceFile& file : sources_in(source_folder())) {
    if (fs::path(file.name).extension() != ".h") continue;
    for (const std::string& type : types_of(file.text)) declared[type].push_back(file.name);
  }
  EXPECT_GT(declared.size(), 20U);
  for (const auto& [type, files] : declared)
    EXPECT_EQ(files.size(), 1U) << type << ": " << files[0] << ", " << files[1];
}

// The checks themselves must be able to fail.

TEST(HouseCheck, SeesAnIncludeAgainstTheArrows) {
  const std::vector<SourceFile> files = {
      {"trace", "trace/a.cpp", "#include \"trace/a.h\"\n#include <vector>\n  # include \"measure/b.h\"\n"},
      {"cellar", "cellar/c.h", ""}};
  const std::vector<std::string> offences = against_the_arrows(files, allowed());
  EXPECT_THAT(offences, Contains("trace/a.cpp includes measure/b.h"));
  EXPECT_THAT(offences, Contains("cellar/c.h stands in a room without arrows"));
  EXPECT_EQ(offences.size(), 2U);
}

TEST(HouseCheck, SeesACycle) {
  EXPECT_THAT(cycle_in({{"a", {"b"}}, {"b", {"c"}}, {"c", {"b"}}}), ::testing::ElementsAre("a", "b", "c", "b"));
  EXPECT_THAT(cycle_in({{"a", {"b", "c"}}, {"b", {"c"}}, {"c", {}}}), IsEmpty());
}

TEST(HouseCheck, ReadsListsWithoutTheirComments) {
  EXPECT_THAT(words_of("room(x SOURCES a.cpp\n  b.cpp)  # not c.cpp\n"),
              ::testing::ElementsAre("SOURCES", "a.cpp", "b.cpp", "room", "x"));
}

TEST(HouseCheck, SeesTypesButNoForwardDeclarations) {
  EXPECT_THAT(types_of("struct A {\n  struct Inner {};\n};\nclass B;\nenum class C {\n};\nclass D : public A {\n};\n"),
              ::testing::ElementsAre("A", "C", "D"));
}

}  // namespace
}  // namespace glintline
