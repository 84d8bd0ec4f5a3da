#pragma once

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <stdexcept>
#include <string>

namespace glintline::testing {

/// A file that lasts as long as this object, in a folder of its own.
class WrittenFile {
 public:
  WrittenFile(const std::string& name, const std::string& content) {
    std::string folder = (std::filesystem::temp_directory_path() / "glintline-XXXXXX").string();
    if (mkdtemp(folder.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = std::filesystem::path(folder) / name;
    std::ofstream(path_, std::ios::binary) << content;
  }
  WrittenFile(const WrittenFile&) = delete;
  WrittenFile& operator=(const WrittenFile&) = delete;
  ~WrittenFile() {
    std::error_code ignored;
    std::filesystem::remove_all(path_.parent_path(), ignored);
  }

  /// Another file in the same folder.
  void beside(const std::string& name, const std::string& content) const {
    std::ofstream(path_.parent_path() / name, std::ios::binary) << content;
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace glintline::testing
