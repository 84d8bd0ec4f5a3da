#include "cli/run_program.h"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/scratch_folder.h"

namespace glintline::testing {
namespace {

[[noreturn]] void become(const std::vector<std::string>& words, const std::string& folder,
                         const std::map<std::string, std::string>& variables) {
  std::vector<char*> arguments{const_cast<char*>(GLINTLINE_PROGRAM)};
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::setenv("LC_ALL", "C.UTF-8", 1);
  for (const auto& [name, value] : variables) ::setenv(name.c_str(), value.c_str(), 1);
  if (::chdir(folder.c_str()) == 0) ::execv(GLINTLINE_PROGRAM, arguments.data());
  ::_exit(127);
}

}  // namespace

ProgramRun run_program(const std::vector<std::string>& words, const std::string& folder,
                       const std::map<std::string, std::string>& variables, const std::string& input) {
  const ScratchFolder outputs;
  const std::filesystem::path typed = outputs.file("in", input);
  const pid_t child = ::fork();
  if (child == 0) {
    ::dup2(::open(typed.c_str(), O_RDONLY), STDIN_FILENO);
    ::dup2(::open((outputs / "out").c_str(), O_WRONLY | O_CREAT, 0600), STDOUT_FILENO);
    ::dup2(::open((outputs / "err").c_str(), O_WRONLY | O_CREAT, 0600), STDERR_FILENO);
    become(words, folder, variables);
  }
  int status = 0;
  ::waitpid(child, &status, 0);
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, text_of(outputs / "out"), text_of(outputs / "err")};
}

}  // namespace glintline::testing
