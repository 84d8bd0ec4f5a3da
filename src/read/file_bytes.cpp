#include "read/file_bytes.h"

#include <fcntl.h>
#include <openssl/evp.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cassert>
#include <cerrno>
#include <system_error>

namespace glintline {

namespace {

class OpenFile {
 public:
  // Non-blocking, so that a pipe given by mistake is refused instead of waited for.
  explicit OpenFile(const std::filesystem::path& path)
      : descriptor_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)) {}
  ~OpenFile() {
    if (descriptor_ >= 0) ::close(descriptor_);
  }
  OpenFile(const OpenFile&) = delete;
  OpenFile& operator=(const OpenFile&) = delete;

  [[nodiscard]] int descriptor() const { return descriptor_; }

 private:
  int descriptor_;
};

Error missing(std::string what) { return {Fault::kFileMissing, std::move(what), ""}; }

std::string system_text(int code) { return std::generic_category().message(code); }

Error cannot_open(int code) {
  if (code == ENOENT || code == ENOTDIR) return missing("no such file: check the name");
  if (code == EACCES) return missing("the file may not be read: check its permissions");
  return missing("the file cannot be opened (" + system_text(code) + ")");
}

}  // namespace

Result<std::vector<std::uint8_t>> read_bytes(const std::filesystem::path& path) {
  const OpenFile file(path);
  if (file.descriptor() < 0) return cannot_open(errno);
  struct stat status {};
  if (::fstat(file.descriptor(), &status) != 0) return cannot_open(errno);
  if (S_ISDIR(status.st_mode)) return missing("this is a folder: name the photographs in it");
  if (!S_ISREG(status.st_mode)) return missing("this is not an ordinary file: name a photograph");
  if (static_cast<std::uintmax_t>(status.st_size) > kMaxFileBytes) {
    return Error{Fault::kTooLarge, "the file is larger than 1 GiB: save the photograph as JPEG", ""};
  }

  std::vector<std::uint8_t> bytes(static_cast<std::size_t>(status.st_size));
  std::size_t filled = 0;
  while (filled < bytes.size()) {
    const ssize_t got = ::read(file.descriptor(), bytes.data() + filled, bytes.size() - filled);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return missing("the file cannot be read (" + system_text(errno) + "): copy it again");
    if (got == 0) break;  // shortened while being read: what is there is judged as it stands
    filled += static_cast<std::size_t>(got);
  }
  bytes.resize(filled);
  return bytes;
}

std::string sha256_hex(Bytes bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  // Fails only when OpenSSL was built without SHA-256, which its own protocols do not survive.
  [[maybe_unused]] const int done =
      EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr);
  assert(done == 1);

  constexpr char kDigits[] = "0123456789abcdef";
  std::string hex;
  hex.reserve(std::size_t{2} * length);
  for (unsigned int i = 0; i < length; ++i) {
    hex += kDigits[digest[i] >> 4];
    hex += kDigits[digest[i] & 15];
  }
  return hex;
}

}  // namespace glintline
