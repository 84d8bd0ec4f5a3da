#include "record/own_server.h"

#include <fcntl.h>
#include <grp.h>
#include <pwd.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <thread>
#include <vector>

namespace glintline::testing {
namespace {

namespace fs = std::filesystem;

/// The folder of the newest server programs; empty where there are none. Debian keeps them out of the path.
std::string server_programs() {
  std::string newest;
  std::error_code ignored;
  for (const fs::directory_entry& version : fs::directory_iterator("/usr/lib/postgresql", ignored)) {
    const fs::path programs = version.path() / "bin";
    if (fs::exists(programs / "initdb", ignored)) newest = std::max(newest, programs.string());
  }
  return newest;
}

void give_up_root() {
  if (::geteuid() != 0) return;
  const passwd* nobody = ::getpwnam("nobody");
  if (nobody == nullptr || ::setgroups(0, nullptr) != 0 || ::setgid(nobody->pw_gid) != 0 ||
      ::setuid(nobody->pw_uid) != 0) {
    ::_exit(126);
  }
}

/// Starts a program as an ordinary user with its output in a file; gives its process.
pid_t begun(const std::vector<std::string>& words, const std::string& log) {
  const pid_t child = ::fork();
  if (child != 0) return child;
  give_up_root();
  const int output = ::open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
  ::dup2(output, STDOUT_FILENO);
  ::dup2(output, STDERR_FILENO);
  std::vector<char*> arguments;
  for (const std::string& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  ::setenv("LC_ALL", "C.UTF-8", 1);
  if (::chdir("/") == 0) ::execv(arguments[0], arguments.data());
  ::_exit(127);
}

bool ran(const std::vector<std::string>& words, const std::string& log) {
  int status = -1;
  ::waitpid(begun(words, log), &status, 0);
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

/// A short name, because a socket's path holds at most 107 bytes.
std::string ordinary_users_folder() {
  std::string name = "/tmp/glintline-pg-XXXXXX";
  if (::mkdtemp(name.data()) == nullptr) return "";
  const passwd* nobody = ::getpwnam("nobody");
  if (::geteuid() == 0 && (nobody == nullptr || ::chown(name.c_str(), nobody->pw_uid, nobody->pw_gid) != 0)) return "";
  return name;
}

}  // namespace

OwnServer* OwnServer::shared() {
  static const std::unique_ptr<OwnServer> server = [] {
    std::unique_ptr<OwnServer> made(new OwnServer);
    const std::string programs = server_programs();
    if (programs.empty() || !made->start(programs)) made.reset();
    return made;
  }();
  return server.get();
}

bool OwnServer::start(const std::string& programs) {
  folder_ = ordinary_users_folder();
  if (folder_.empty()) return false;
  const std::string log = folder_ + "/log";
  const std::string data = folder_ + "/data";
  if (!ran({programs + "/initdb", "-D", data, "-U", "bench", "-A", "trust", "-E", "UTF8", "--no-sync"}, log)) {
    return false;
  }
  // No port is opened: the socket's folder is the test's own.
  pid_ = begun({programs + "/postgres", "-D", data, "-k", folder_, "-c", "listen_addresses=", "-c", "fsync=off"}, log);
  const std::vector<std::string> ask = {programs + "/psql", "-h", folder_,   "-U", "bench", "-d",
                                        "postgres",         "-c", "SELECT 1"};
  for (int attempt = 0; attempt < 300; ++attempt) {
    if (ran(ask, "/dev/null")) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
  }
  return false;
}

OwnServer::~OwnServer() {
  if (pid_ > 0) {
    ::kill(pid_, SIGINT);  // fast shutdown: the sessions are ended
    ::waitpid(pid_, nullptr, 0);
  }
  std::error_code ignored;
  if (!folder_.empty()) fs::remove_all(folder_, ignored);
}

std::string OwnServer::fresh_database() {
  const std::string name = "bench" + std::to_string(++databases_);
  if (!ran({server_programs() + "/createdb", "-h", folder_, "-U", "bench", name}, folder_ + "/log")) return "";
  return "postgresql:host=" + folder_ + " user=bench dbname=" + name;
}

}  // namespace glintline::testing
