#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "base/result.h"
#include "read/option_text.h"

namespace glintline {

/// What a number in a file may be.
struct NumberRange {
  double least;
  double most;
  const char* unit;  ///< "degrees"
};

/// One table of a TOML 1.0 file, read key by key. The first complaint is kept, with file and line, and every later
/// getter answers nothing; finish() gives it, or complains of keys that nobody asked for. So a reader asks for all its
/// keys in a row and checks once.
class TomlTable {
 public:
  /// Fails with kFileMissing, or kBadOption where the file is not TOML or larger than 1 MB.
  [[nodiscard]] static Result<TomlTable> read(const std::filesystem::path& path);
  /// The same from a text that would stand in the file `path`.
  [[nodiscard]] static Result<TomlTable> parse(std::string_view text, const std::filesystem::path& path);

  TomlTable(TomlTable&&) noexcept;
  TomlTable& operator=(TomlTable&&) noexcept;
  ~TomlTable();

  [[nodiscard]] std::optional<std::string> text(const std::string& key);
  [[nodiscard]] std::optional<bool> flag(const std::string& key);
  [[nodiscard]] std::optional<int> count(const std::string& key, int least, int most);
  [[nodiscard]] std::optional<double> number(const std::string& key, const NumberRange& range);
  /// A length in mm, as a number.
  [[nodiscard]] std::optional<double> length(const std::string& key, const LengthRange& range);
  /// A length in mm, as a number or as text "5.2+-0.1" (u95).
  [[nodiscard]] std::optional<KnownLength> known_length(const std::string& key, const LengthRange& range,
                                                        double default_u95_mm);
  /// A number or a text, as text: for values with their own parser.
  [[nodiscard]] std::optional<std::string> loose(const std::string& key);
  /// One of a few words.
  template <typename T>
  [[nodiscard]] std::optional<T> choice(const std::string& key, const std::vector<std::pair<std::string, T>>& words) {
    const std::optional<std::string> word = text(key);
    if (!word) return std::nullopt;
    std::string known;
    for (const auto& [name, value] : words) {
      if (name == *word) return value;
      known += (known.empty() ? "" : ", ") + name;
    }
    complain(key, "= \"" + *word + "\" is not known: write one of " + known);
    return std::nullopt;
  }
  /// A table inside this one. It shares the complaint, and is closed by itself.
  [[nodiscard]] std::optional<TomlTable> table(const std::string& key);

  /// Keeps "KEY WHAT" as the complaint, unless there is one.
  void complain(const std::string& key, const std::string& what);
  /// The value of `parsed`, or its error kept as the complaint about `key`.
  template <typename T>
  [[nodiscard]] std::optional<T> keep(const std::string& key, const Result<T>& parsed) {
    if (parsed) return *parsed;
    complain(key, ": " + parsed.error().what);
    return std::nullopt;
  }

  /// Complains of keys that were never asked for: the last thing done with an inner table.
  void close();
  /// Closes, and gives success or the first complaint.
  [[nodiscard]] Result<Done> finish();

 private:
  struct File;
  struct Node;
  TomlTable(std::shared_ptr<File> file, std::unique_ptr<Node> node);

  std::shared_ptr<File> file_;
  std::unique_ptr<Node> node_;
  std::set<std::string> asked_;
};

}  // namespace glintline
