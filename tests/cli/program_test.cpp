// The executable as a shell meets it: what it prints where, and what it returns.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "cli/exit_code.h"
#include "support/scratch_folder.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;
using ::testing::HasSubstr;
using ::testing::IsEmpty;
using ::testing::Not;
using testing::ScratchFolder;
using testing::text_of;

struct Outcome {
  int code = -1;
  std::string out;
  std::string err;
};

using Words = std::vector<std::string>;

[[noreturn]] void become(const Words& words, const char* language) {
  std::vector<char*> arguments{const_cast<char*>(GLINTLINE_PROGRAM)};
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::setenv("LC_ALL", language, 1);
  ::unsetenv("COLUMNS");
  ::unsetenv("NO_COLOR");
  ::setenv("TERM", "xterm", 1);
  ::execv(GLINTLINE_PROGRAM, arguments.data());
  ::_exit(127);
}

int code_of(pid_t child) {
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/// Runs the program with its outputs in files; `out` may be a device instead.
Outcome run(const Words& words, const std::string& device = "") {
  const ScratchFolder folder;
  const fs::path out = device.empty() ? folder / "out" : fs::path(device);
  const pid_t child = ::fork();
  if (child == 0) {
    ::dup2(::open(out.c_str(), O_WRONLY | O_CREAT, 0600), STDOUT_FILENO);
    ::dup2(::open((folder / "err").c_str(), O_WRONLY | O_CREAT, 0600), STDERR_FILENO);
    become(words, "C.UTF-8");
  }
  const int code = code_of(child);
  return {code, device.empty() ? text_of(out) : "", text_of(folder / "err")};
}

/// Runs the program on a terminal of `columns` columns; both outputs come together.
Outcome run_on_terminal(const Words& words, unsigned short columns, const char* language) {
  winsize window{};
  window.ws_col = columns;
  window.ws_row = 40;
  int terminal = -1;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, &window);
  if (child == 0) become(words, language);
  std::string out;
  char buffer[4096];
  // At the end a terminal reports an input/output error where a pipe would report its end.
  for (ssize_t got = ::read(terminal, buffer, sizeof buffer); got > 0; got = ::read(terminal, buffer, sizeof buffer)) {
    out.append(buffer, static_cast<std::size_t>(got));
  }
  ::close(terminal);
  return {code_of(child), out, ""};
}

int as_int(ExitCode code) { return static_cast<int>(code); }

std::size_t lines_in(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

std::string data(const std::string& name) { return GLINTLINE_SOURCE_DIR "/tests/data/photos/" + name; }

/// A whole photograph without any card.
std::string cardless() { return data("orientation_1.jpg"); }

TEST(Program, TellsItsVersion) {
  const Outcome version = run({"--version"});
  EXPECT_EQ(version.code, 0);
  EXPECT_THAT(version.out, ::testing::MatchesRegex("glintline [0-9]+\\.[0-9]+\\.[0-9]+\n"));
}

TEST(Program, HelpCarriesTheCautionTheExamplesAndTheExitCodes) {
  for (const Words& words : {Words{"--help"}, Words{"look", "--help"}, Words{"card", "--help"}}) {
    const Outcome help = run(words);
    EXPECT_EQ(help.code, 0);
    EXPECT_THAT(help.out, HasSubstr("engine off"));
    EXPECT_THAT(help.out, HasSubstr("maker's instruction"));
    EXPECT_THAT(help.out, HasSubstr("Exit codes: 0"));
    EXPECT_THAT(help.out, HasSubstr("\n  glintline "));
    EXPECT_THAT(help.err, IsEmpty());
  }
}

TEST(Program, SenselessUseGetsOneLineAndItsOwnCode) {
  const ScratchFolder folder;
  const std::vector<Words> senseless = {
      {},
      {"stare"},
      {"look"},
      {"look", cardless(), "--focus"},
      {"look", cardless(), "--view", "front"},
      {"look", cardless(), "--standoff", "high"},
      {"look", cardless(), "--pitch", "0.375"},
      {"look", cardless(), "--printed", "99"},
      {"look", cardless(), "--setup", "/no/such.toml"},
      {"look", cardless(), "--json", "-", "--csv", "-"},
      {"look", folder.path().string()},
      {"card", "huge"},
      {"card", "--square", "100", "--output", (folder / "a.pdf").string()},
      {"card", "--tags", "9-3", "--output", (folder / "b.pdf").string()},
      {"card", "--output", (folder / "c.txt").string()},
  };
  for (const Words& words : senseless) {
    const Outcome failed = run(words);
    const std::string said = words.empty() ? "nothing" : words.back();
    EXPECT_EQ(failed.code, as_int(ExitCode::kUsage)) << said;
    EXPECT_THAT(failed.out, IsEmpty()) << said;
    EXPECT_EQ(lines_in(failed.err), 1U) << said << ": " << failed.err;
    EXPECT_EQ(failed.err.rfind("glintline: ", 0), 0U) << failed.err;
  }
  EXPECT_TRUE(fs::is_empty(folder.path())) << "a refused command leaves nothing behind";
}

TEST(Program, EveryBadFileGetsItsLineAndTheOthersGoOn) {
  const ScratchFolder folder;
  const std::string text = folder.file("letter.jpg", "Dear all").string();
  const Outcome looked = run({"look", "/no/such.jpg", text, data("truncated_jpeg.jpg"), cardless()});
  EXPECT_EQ(looked.code, as_int(ExitCode::kAllRefused));
  for (const std::string& name : {std::string("/no/such.jpg"), text, data("truncated_jpeg.jpg"), cardless()}) {
    EXPECT_THAT(looked.out, HasSubstr("not measured: " + name + ": "));
  }
  EXPECT_THAT(looked.out, HasSubstr("0 cutters in 4 photographs"));
  EXPECT_THAT(looked.err, IsEmpty());
}

TEST(Program, JsonOnStandardOutputIsJsonAndNothingElse) {
  const Outcome looked = run({"look", "/no/such.jpg", cardless(), "--json", "-", "-v"});
  EXPECT_EQ(looked.code, as_int(ExitCode::kAllRefused));
  const nlohmann::json parsed = nlohmann::json::parse(looked.out, nullptr, false);
  ASSERT_TRUE(parsed.is_array()) << looked.out;
  ASSERT_EQ(parsed.size(), 2U);
  EXPECT_EQ(parsed[0]["photo"], "/no/such.jpg");
  EXPECT_EQ(parsed[0]["fault"], "file_missing");
  EXPECT_EQ(parsed[1]["fault"], "no_card");
  EXPECT_THAT(looked.err, HasSubstr("/no/such.jpg"));
  EXPECT_THAT(looked.err, HasSubstr("2 of 2"));
}

TEST(Program, WritesTheAskedForFilesAndDrawsRefusedPhotographsToo) {
  const ScratchFolder folder;
  const Outcome looked = run({"look", cardless(), "--json", (folder / "a.json").string(), "--csv",
                              (folder / "a.csv").string(), "--draw", (folder / "deep" / "drawn").string()});
  EXPECT_EQ(looked.code, as_int(ExitCode::kAllRefused));
  EXPECT_EQ(nlohmann::json::parse(text_of(folder / "a.json")).size(), 1U);
  EXPECT_EQ(lines_in(text_of(folder / "a.csv")), 2U);
  EXPECT_EQ(text_of(folder / "deep" / "drawn" / "orientation_1-marked.jpg").substr(0, 2), "\xFF\xD8");
  EXPECT_THAT(looked.out, HasSubstr("1 annotated picture in "));
  EXPECT_EQ(std::distance(fs::directory_iterator(folder.path()), {}), 3) << "no half-written files stay";
}

TEST(Program, OutputsThatCannotBeWrittenAreToldAndSpoilNothing) {
  const ScratchFolder folder;
  const std::string file = folder.file("file", "kept").string();
  const std::vector<Words> impossible = {{"--json", (folder / "no" / "a.json").string()},
                                         {"--csv", folder.path().string()},
                                         {"--draw", file},
                                         {"--draw", file + "/below"}};
  for (const Words& output : impossible) {
    const Outcome looked = run({"look", cardless(), output[0], output[1]});
    EXPECT_EQ(looked.code, as_int(ExitCode::kCannotWrite)) << output[0] << " " << output[1];
    EXPECT_EQ(lines_in(looked.err), 1U) << looked.err;
    EXPECT_THAT(looked.err, HasSubstr(output[1]));
  }
  EXPECT_EQ(text_of(file), "kept");
}

TEST(Program, AFullDiskBehindStandardOutputIsNotSuccess) {
  EXPECT_EQ(run({"look", cardless()}, "/dev/full").code, as_int(ExitCode::kCannotWrite));
}

/// The committed photographs, each with its truth beside it.
std::vector<std::string> samples() {
  std::vector<std::string> photographs;
  for (const fs::directory_entry& entry : fs::directory_iterator(GLINTLINE_SOURCE_DIR "/samples/photos")) {
    if (entry.path().extension() == ".jpg") photographs.push_back(entry.path().string());
  }
  return photographs;
}

TEST(Program, TellsTheViewOfSamplesByItself) {
  Words words = {"look", "--json", "-"};
  const std::vector<std::string> photographs = samples();
  ASSERT_FALSE(photographs.empty());
  words.insert(words.end(), photographs.begin(), photographs.end());
  const Outcome looked = run(words);
  EXPECT_EQ(looked.code, as_int(ExitCode::kDone)) << looked.err;
  const nlohmann::json all = nlohmann::json::parse(looked.out);
  ASSERT_EQ(all.size(), photographs.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    const nlohmann::json truth = nlohmann::json::parse(text_of(fs::path(photographs[i]).replace_extension(".json")));
    EXPECT_EQ(all[i]["photo"], photographs[i]) << "the order given";
    EXPECT_EQ(all[i]["view"], truth["view"]) << photographs[i];
    EXPECT_EQ(all[i]["scale"]["card"], truth["card"]["kind"]) << photographs[i];
    EXPECT_FALSE(all[i]["cutters"].empty()) << photographs[i];
  }
}

TEST(Program, MeasuredAndRefusedTogetherHaveTheirOwnCode) {
  const Outcome looked = run({"look", samples().front(), cardless()});
  EXPECT_EQ(looked.code, as_int(ExitCode::kSomeRefused));
  EXPECT_THAT(looked.out, HasSubstr("1 photograph not measured"));
}

TEST(Program, DrawsCardsWhereItWasTold) {
  const ScratchFolder folder;
  const Outcome card = run({"card", "close", "--output", (folder / "c.pdf").string()});
  EXPECT_EQ(card.code, 0) << card.err;
  EXPECT_EQ(text_of(folder / "c.pdf").substr(0, 5), "%PDF-");
  EXPECT_THAT(card.out, HasSubstr((folder / "c.pdf").string()));
  EXPECT_THAT(card.out, HasSubstr("100 %"));
  const Outcome tags = run({"card", "--tags", "1-3", "--dpi", "150", "--output", (folder / "t.png").string()});
  EXPECT_EQ(tags.code, 0) << tags.err;
  EXPECT_EQ(text_of(folder / "t.png").substr(1, 3), "PNG");
  EXPECT_EQ(run({"card", "--output", (folder / "no" / "c.pdf").string()}).code, as_int(ExitCode::kCannotWrite));
}

TEST(Program, OnATerminalLinesFitAndSignsFollowTheLanguage) {
  const ScratchFolder folder;
  const std::string name = folder.file("K\xC3\xB6rper\x1b[31m.jpg", "x").string();
  const Outcome utf8 = run_on_terminal({"look", name}, 80, "C.UTF-8");
  EXPECT_EQ(utf8.code, as_int(ExitCode::kAllRefused));
  EXPECT_THAT(utf8.out, HasSubstr("K\xC3\xB6rper"));
  EXPECT_THAT(utf8.out, Not(HasSubstr("\x1b[31m"))) << "a file's name must not steer the terminal";
  const Outcome plain = run_on_terminal({"look", name}, 80, "C");
  for (const char c : plain.out) EXPECT_LT(static_cast<unsigned char>(c), 0x80);
}

TEST(Program, LearnsNoCameraFromOnePhotographAndSaysWhatIsNeeded) {
  const Outcome one = run({"lens", std::filesystem::path(GLINTLINE_SOURCE_DIR) / "samples/photos/profile-wide-1.jpg"});
  EXPECT_EQ(one.code, static_cast<int>(ExitCode::kAllRefused)) << one.err;
  EXPECT_THAT(one.out, HasSubstr("6 needed"));
  const Outcome inches = run({"lens", "--square", "0.2", GLINTLINE_SOURCE_DIR});
  EXPECT_EQ(inches.code, static_cast<int>(ExitCode::kUsage));
  EXPECT_THAT(inches.err, HasSubstr("--square 0.2"));
}

}  // namespace
}  // namespace glintline
