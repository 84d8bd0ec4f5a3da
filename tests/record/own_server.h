#pragma once

#include <memory>
#include <string>

namespace glintline::testing {

/// A PostgreSQL server of this test program's own: started on first use in a scratch folder, reached over a socket
/// there, stopped at the end. The server refuses to run as root, so that as root it runs as the user "nobody".
class OwnServer {
 public:
  /// The one server of this process; null where PostgreSQL is not installed.
  [[nodiscard]] static OwnServer* shared();
  ~OwnServer();
  OwnServer(const OwnServer&) = delete;
  OwnServer& operator=(const OwnServer&) = delete;

  /// Makes an empty database and gives the words that open it, as Record::open takes them.
  [[nodiscard]] std::string fresh_database();

 private:
  OwnServer() = default;
  [[nodiscard]] bool start(const std::string& programs);

  std::string folder_;
  int databases_ = 0;
  int pid_ = -1;
};

}  // namespace glintline::testing
