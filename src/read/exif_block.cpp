#include "read/exif_block.h"

#include <algorithm>
#include <cctype>
#include <exiv2/error.hpp>
#include <exiv2/exif.hpp>
#include <limits>

namespace glintline {

namespace {

// No lens is shorter than a phone's or longer than an observatory's; outside this the entry is senseless.
constexpr double kShortestFocal_mm = 0.5;
constexpr double kLongestFocal_mm = 5000;

// Exiv2 writes what it dislikes to standard error, which belongs to the command line.
void silence_exiv2() {
  [[maybe_unused]] static const bool silent = [] {
    Exiv2::LogMsg::setLevel(Exiv2::LogMsg::mute);
    return true;
  }();
}

class Entries {
 public:
  explicit Entries(Bytes block) {
    if (block.size() > std::numeric_limits<std::uint32_t>::max()) return;
    Exiv2::ExifParser::decode(data_, block.data(), static_cast<std::uint32_t>(block.size()));
  }

  [[nodiscard]] std::optional<double> number(const char* key) const {
    const auto entry = find(key);
    if (entry == data_.end() || entry->count() < 1) return std::nullopt;
    const auto [numerator, denominator] = entry->toRational();
    if (denominator == 0) return std::nullopt;
    return static_cast<double>(numerator) / denominator;
  }

  [[nodiscard]] std::string text(const char* key) const {
    const auto entry = find(key);
    return entry == data_.end() ? "" : plain_text(entry->toString());
  }

 private:
  [[nodiscard]] Exiv2::ExifData::const_iterator find(const char* key) const {
    return data_.findKey(Exiv2::ExifKey(key));
  }

  Exiv2::ExifData data_;
};

int orientation(const Entries& entries) {
  const double stored = entries.number("Exif.Image.Orientation").value_or(1);
  return stored >= 1 && stored <= 8 ? static_cast<int>(stored) : 1;
}

std::optional<double> focal_length(const Entries& entries, const char* key) {
  const auto stored = entries.number(key);
  return stored && *stored >= kShortestFocal_mm && *stored <= kLongestFocal_mm ? stored : std::nullopt;
}

std::string camera(const Entries& entries) {
  const std::string make = entries.text("Exif.Image.Make");
  std::string model = entries.text("Exif.Image.Model");
  if (make.empty() || model.rfind(make, 0) == 0) return model;
  return model.empty() ? make : make + " " + model;
}

// "2026:05:01 10:20:30"; cameras whose clock was never set write blanks or noughts.
std::string moment(const std::string& text) {
  constexpr char kPattern[] = "dddd:dd:dd dd:dd:dd";
  if (text.size() != sizeof kPattern - 1 || text.rfind("0000", 0) == 0) return "";
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool fits =
        kPattern[i] == 'd' ? std::isdigit(static_cast<unsigned char>(text[i])) != 0 : text[i] == kPattern[i];
    if (!fits) return "";
  }
  return text;
}

std::string taken_at(const Entries& entries) {
  const std::string original = moment(entries.text("Exif.Photo.DateTimeOriginal"));
  return original.empty() ? moment(entries.text("Exif.Image.DateTime")) : original;
}

}  // namespace

std::string plain_text(const std::string& text) {
  std::string plain = text.substr(0, text.find('\0'));
  std::replace_if(
      plain.begin(), plain.end(), [](char c) { return c < ' ' || c > '~'; }, '?');
  const auto first = plain.find_first_not_of(' ');
  if (first == std::string::npos) return "";
  return plain.substr(first, plain.find_last_not_of(' ') - first + 1);
}

Exif read_exif(Bytes block) {
  Exif exif;
  if (block.empty()) return exif;
  silence_exiv2();
  try {
    const Entries entries(block);
    exif.orientation = orientation(entries);
    exif.focal_mm = focal_length(entries, "Exif.Photo.FocalLength");
    exif.focal_35mm = focal_length(entries, "Exif.Photo.FocalLengthIn35mmFilm");
    exif.camera = camera(entries);
    exif.taken_at = taken_at(entries);
  } catch (const std::exception&) {
    // What was understood before the break stands.
  }
  return exif;
}

}  // namespace glintline
