#include "read/toml.h"

#include <toml++/toml.h>

#include <cmath>

#include "base/text.h"
#include "read/file_bytes.h"

namespace glintline {

namespace {

constexpr std::uintmax_t kMaxTomlBytes = 1 << 20;

std::string joined(const std::set<std::string>& names) {
  std::string all;
  for (const std::string& name : names) all += (all.empty() ? "" : ", ") + name;
  return all;
}

/// "5 to 20 mm"
std::string span_text(const NumberRange& range) {
  const auto shown = [](double v) { return v == std::floor(v) ? fixed(v, 0) : fixed(v, 3); };
  return shown(range.least) + " to " + shown(range.most) + " " + range.unit;
}

}  // namespace

struct TomlTable::File {
  std::string path;
  toml::table root;
  std::optional<Error> complaint;

  [[nodiscard]] std::string at(const toml::source_position& place) const {
    return place.line > 0 ? path + ":" + std::to_string(place.line) : path;
  }
};

struct TomlTable::Node {
  const toml::table* table = nullptr;

  [[nodiscard]] const toml::node* find(const std::string& key) const { return table->get(key); }
};

TomlTable::TomlTable(std::shared_ptr<File> file, std::unique_ptr<Node> node)
    : file_(std::move(file)), node_(std::move(node)) {}
TomlTable::TomlTable(TomlTable&&) noexcept = default;
TomlTable& TomlTable::operator=(TomlTable&&) noexcept = default;
TomlTable::~TomlTable() = default;

Result<TomlTable> TomlTable::read(const std::filesystem::path& path) {
  std::error_code ignored;
  if (std::filesystem::is_regular_file(path, ignored) && std::filesystem::file_size(path, ignored) > kMaxTomlBytes) {
    return Error{Fault::kBadOption, "larger than 1 MB: that is no sheet or set-up", path.string()};
  }
  const Result<std::vector<std::uint8_t>> bytes = read_bytes(path);
  if (!bytes) return Error{bytes.error().fault, bytes.error().what, path.string()};
  return parse(std::string_view(reinterpret_cast<const char*>(bytes->data()), bytes->size()), path);
}

Result<TomlTable> TomlTable::parse(std::string_view text, const std::filesystem::path& path) {
  auto file = std::make_shared<File>();
  file->path = path.string();
  try {
    file->root = toml::parse(text);
  } catch (const toml::parse_error& e) {
    return Error{Fault::kBadOption, "not readable as TOML: " + std::string(e.description()),
                 file->at(e.source().begin)};
  }
  auto node = std::make_unique<Node>(Node{&file->root});
  return TomlTable(std::move(file), std::move(node));
}

void TomlTable::complain(const std::string& key, const std::string& what) {
  if (file_->complaint) return;
  const toml::node* node = node_->find(key);
  const std::string space = what.starts_with(':') ? "" : " ";
  file_->complaint = Error{Fault::kBadOption, key + space + what, node ? file_->at(node->source().begin) : file_->path};
}

std::optional<std::string> TomlTable::text(const std::string& key) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (const auto value = node->value_exact<std::string>()) return value;
  complain(key, "must be a text in quotation marks");
  return std::nullopt;
}

std::optional<bool> TomlTable::flag(const std::string& key) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (const auto value = node->value_exact<bool>()) return value;
  complain(key, "must be true or false");
  return std::nullopt;
}

std::optional<int> TomlTable::count(const std::string& key, int least, int most) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  const auto value = node->value_exact<std::int64_t>();
  if (value && *value >= least && *value <= most) return static_cast<int>(*value);
  complain(key, "must be a whole number from " + std::to_string(least) + " to " + std::to_string(most));
  return std::nullopt;
}

std::optional<double> TomlTable::number(const std::string& key, const NumberRange& range) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (!node->is_number()) {
    complain(key, "must be a number without quotation marks, " + span_text(range));
    return std::nullopt;
  }
  const double value = *node->value<double>();
  if (value >= range.least && value <= range.most) return value;
  complain(key, "= " + fixed(value, 3) + " lies outside " + span_text(range));
  return std::nullopt;
}

std::optional<double> TomlTable::length(const std::string& key, const LengthRange& range) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (!node->is_number()) {
    complain(key, "must be a number of millimetres without quotation marks");
    return std::nullopt;
  }
  const double value = *node->value<double>();
  const std::string what = complaint(value, range);
  if (what.empty()) return value;
  complain(key, "of " + what);
  return std::nullopt;
}

std::optional<KnownLength> TomlTable::known_length(const std::string& key, const LengthRange& range,
                                                   double default_u95_mm) {
  const std::optional<std::string> text = loose(key);
  if (!text) return std::nullopt;
  return keep(key, parse_known_length(*text, range, default_u95_mm));
}

std::optional<std::string> TomlTable::loose(const std::string& key) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (const auto value = node->value_exact<std::string>()) return value;
  if (node->is_number()) return fixed(*node->value<double>(), 6);
  complain(key, "must be a number or a text");
  return std::nullopt;
}

std::optional<TomlTable> TomlTable::table(const std::string& key) {
  asked_.insert(key);
  const toml::node* node = node_->find(key);
  if (!node || file_->complaint) return std::nullopt;
  if (const toml::table* inner = node->as_table()) return TomlTable(file_, std::make_unique<Node>(Node{inner}));
  complain(key, "must be a section: write [" + key + "]");
  return std::nullopt;
}

void TomlTable::close() {
  for (const auto& [key, node] : *node_->table) {
    const std::string name(key.str());
    if (!asked_.contains(name)) complain(name, "is not known here: known are " + joined(asked_));
  }
}

Result<Done> TomlTable::finish() {
  close();
  if (file_->complaint) return *file_->complaint;
  return Done{};
}

}  // namespace glintline
