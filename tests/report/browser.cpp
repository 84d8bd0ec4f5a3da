#include "report/browser.h"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <sstream>

#include "support/scratch_folder.h"

namespace glintline::testing {
namespace {

constexpr const char* kChromium = "/usr/bin/chromium";

std::vector<std::string> console_lines(const std::string& log) {
  std::vector<std::string> lines;
  std::istringstream stream(log);
  for (std::string line; std::getline(stream, line);) {
    if (line.find("CONSOLE") != std::string::npos) lines.push_back(line);
  }
  return lines;
}

[[noreturn]] void become_chromium(const std::vector<std::string>& words, const std::filesystem::path& out,
                                  const std::filesystem::path& log) {
  ::dup2(::open(out.c_str(), O_WRONLY | O_CREAT, 0600), STDOUT_FILENO);
  ::dup2(::open(log.c_str(), O_WRONLY | O_CREAT, 0600), STDERR_FILENO);
  std::vector<char*> arguments;
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::execv(kChromium, arguments.data());
  ::_exit(127);
}

}  // namespace

std::optional<BrowserRun> browse(const std::filesystem::path& page, const std::vector<std::string>& options) {
  if (::access(kChromium, X_OK) != 0) return std::nullopt;
  const ScratchFolder folder;
  std::vector<std::string> words = {kChromium, "--headless", "--disable-gpu", "--no-first-run",
                                    "--disable-dev-shm-usage", "--disable-background-networking",
                                    // No name resolves: what is not in the page cannot come from anywhere.
                                    "--host-resolver-rules=MAP * ~NOTFOUND", "--allow-file-access-from-files",
                                    "--enable-logging=stderr", "--virtual-time-budget=10000",
                                    "--user-data-dir=" + (folder / "profile").string()};
  // Chromium's sandbox refuses to work for root.
  if (::geteuid() == 0) words.emplace_back("--no-sandbox");
  words.insert(words.end(), options.begin(), options.end());
  words.push_back("file://" + page.string());
  const pid_t child = ::fork();
  if (child == 0) become_chromium(words, folder / "out", folder / "log");
  int status = 0;
  ::waitpid(child, &status, 0);
  BrowserRun run;
  run.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  run.out = text_of(folder / "out");
  run.console = console_lines(text_of(folder / "log"));
  return run;
}

}  // namespace glintline::testing
