#include "cli/record_place.h"

#include <algorithm>
#include <array>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <random>

#include "report/written_file.h"

namespace glintline {
namespace {

namespace fs = std::filesystem;

std::string variable(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

fs::path data_folder() {
  const std::string said = variable("XDG_DATA_HOME");
  const std::string home = variable("HOME");
  if (!said.empty()) return fs::path(said) / "glintline";
  return home.empty() ? fs::path() : fs::path(home) / ".local" / "share" / "glintline";
}

bool digits(const std::string& text, std::size_t from, std::size_t count) {
  return std::all_of(text.begin() + static_cast<std::ptrdiff_t>(from),
                     text.begin() + static_cast<std::ptrdiff_t>(from + count),
                     [](unsigned char c) { return c >= '0' && c <= '9'; });
}

int number_at(const std::string& text, std::size_t from, std::size_t count) {
  return std::atoi(text.substr(from, count).c_str());
}

bool is_date(const std::string& text) {
  if (text.size() < 10 || !digits(text, 0, 4) || text[4] != '-' || !digits(text, 5, 2) || text[7] != '-' ||
      !digits(text, 8, 2)) {
    return false;
  }
  constexpr std::array<int, 12> kDays{31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const int year = number_at(text, 0, 4);
  const int month = number_at(text, 5, 2);
  const int day = number_at(text, 8, 2);
  if (month < 1 || month > 12 || day < 1 || day > kDays.at(static_cast<std::size_t>(month - 1))) return false;
  const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  return leap || month != 2 || day < 29;
}

bool is_clock_time(const std::string& text) {
  return text.size() == 16 && text[10] == 'T' && digits(text, 11, 2) && text[13] == ':' && digits(text, 14, 2) &&
         number_at(text, 11, 2) < 24 && number_at(text, 14, 2) < 60;
}

}  // namespace

Result<std::string> record_place(const std::string& said, RecordOpening opening) {
  if (!said.empty()) return said;
  const std::string from_variable = variable("GLINTLINE_RECORD");
  if (!from_variable.empty()) return from_variable;
  const fs::path folder = data_folder();
  if (folder.empty()) return Error{Fault::kBadOption, "no home folder is known: say where the record is", "--record"};
  if (opening == RecordOpening::kCreateIfAbsent) {
    const Result<Done> made = make_folder(folder);
    if (!made.ok()) return made.error();
  }
  return (folder / "record.db").string();
}

Result<Record> open_record(const std::string& said, RecordOpening opening) {
  const Result<std::string> place = record_place(said, opening);
  if (!place.ok()) return place.error();
  return Record::open(*place, opening);
}

std::string fresh_record_id() {
  std::random_device chance;
  std::string id;
  for (int i = 0; i < 32; ++i) id += "0123456789abcdef"[chance() % 16];
  return id;
}

std::string local_time_now() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  ::localtime_r(&now, &local);
  std::array<char, 32> text{};
  const std::size_t length = std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M", &local);
  return {text.data(), length};
}

Result<std::string> parse_record_time(const std::string& text) {
  if (text.empty()) return local_time_now();
  std::string time = text;
  if (time.size() > 10 && time[10] == ' ') time[10] = 'T';
  if (is_date(time) && (time.size() == 10 || is_clock_time(time))) return time;
  return Error{Fault::kBadOption, "give the day as 2026-11-02, with the hour as 2026-11-02T14:30",
               std::string("--at ").append(text)};
}

Result<std::string> chain_meant(const Record& record, const std::string& said) {
  const Result<std::vector<std::string>> chains = record.chains();
  if (!chains.ok()) return chains.error();
  if (said.empty() && chains->size() == 1) return chains->front();
  if (std::find(chains->begin(), chains->end(), said) != chains->end()) return said;
  std::string known;
  for (const std::string& chain : *chains) known += (known.empty() ? "" : ", ") + chain;
  return Error{Fault::kBadOption,
               known.empty() ? "the record is empty" : "the record holds these chains, name one: " + known, said};
}

}  // namespace glintline
