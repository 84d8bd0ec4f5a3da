#include "report/written_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <cerrno>
#include <cstring>
#include <string>

namespace glintline {
namespace {

namespace fs = std::filesystem;

Error cannot_write(const fs::path& path, int reason) {
  return {Fault::kCannotWrite,
          std::string("cannot be written (") + std::strerror(reason) + "): choose another place or free this one",
          path.string()};
}

/// 0, or the errno that stopped it.
int write_all(int file, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(file, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return errno;
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
  return 0;
}

int write_and_close(int file, std::string_view bytes, bool to_disk) {
  int reason = write_all(file, bytes);
  if (reason == 0 && to_disk && ::fsync(file) != 0) reason = errno;
  if (::close(file) != 0 && reason == 0) reason = errno;
  return reason;
}

Result<Done> write_directly(const fs::path& path, std::string_view bytes) {
  const int file = ::open(path.c_str(), O_WRONLY | O_CLOEXEC);
  if (file < 0) return cannot_write(path, errno);
  const int reason = write_and_close(file, bytes, false);
  if (reason != 0) return cannot_write(path, reason);
  return Done{};
}

struct Beside {
  std::string path;
  int file;
  int reason;
};

/// A new file in the target's folder. Not mkstemp: that makes files only their owner may read, and asking for the
/// umask means changing it, which is not safe while other threads write.
Beside open_beside(const fs::path& target) {
  static std::atomic<unsigned> serial{0};
  for (;;) {
    Beside beside{target.string() + "." + std::to_string(::getpid()) + "-" + std::to_string(serial++) + ".part", -1, 0};
    beside.file = ::open(beside.path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    beside.reason = beside.file < 0 ? errno : 0;
    if (beside.reason != EEXIST) return beside;
  }
}

}  // namespace

Result<Done> write_file(const fs::path& path, std::string_view bytes) {
  struct stat there {};
  const bool exists = ::stat(path.c_str(), &there) == 0;
  if (exists && S_ISDIR(there.st_mode)) return cannot_write(path, EISDIR);
  if (exists && !S_ISREG(there.st_mode)) return write_directly(path, bytes);

  if (exists && ::access(path.c_str(), W_OK) != 0) return cannot_write(path, errno);

  // A link keeps pointing where it points: what is renamed over is the file behind it.
  std::error_code failed;
  const fs::path target = exists ? fs::canonical(path, failed) : path;
  if (failed) return cannot_write(path, failed.value());
  const Beside beside = open_beside(target);
  if (beside.file < 0) return cannot_write(path, beside.reason);
  if (exists) ::fchmod(beside.file, there.st_mode & 0777);
  int reason = write_and_close(beside.file, bytes, true);
  if (reason == 0 && ::rename(beside.path.c_str(), target.c_str()) != 0) reason = errno;
  if (reason == 0) return Done{};
  ::unlink(beside.path.c_str());
  return cannot_write(path, reason);
}

Result<Done> make_folder(const fs::path& folder) {
  std::error_code failed;
  fs::create_directories(folder, failed);
  if (failed) return cannot_write(folder, failed.value());
  if (!fs::is_directory(folder, failed)) return cannot_write(folder, ENOTDIR);
  return Done{};
}

}  // namespace glintline
