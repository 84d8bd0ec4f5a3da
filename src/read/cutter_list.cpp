#include "read/cutter_list.h"

// Rows are few: reading them on the calling thread keeps the program's threads its own.
#define CSV_IO_NO_THREAD
#include <libfccp/csv.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "base/text.h"
#include "read/file_bytes.h"
#include "read/option_text.h"

namespace glintline {

namespace {

constexpr int kMostCutters = 400;

Error bad(const std::filesystem::path& path, unsigned line, const std::string& what) {
  return {Fault::kBadOption, what, line > 0 ? path.string() + ":" + std::to_string(line) : path.string()};
}

Result<std::string> text_in(const std::filesystem::path& path) {
  const Result<std::vector<std::uint8_t>> bytes = read_bytes(path);
  if (!bytes.ok()) return Error{bytes.error().fault, bytes.error().what, path.string()};
  std::string text(bytes->begin(), bytes->end());
  // What office programs put before UTF-8.
  if (text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);
  return text;
}

template <unsigned Columns>
using Rows = io::CSVReader<Columns, io::trim_chars<' ', '\t'>, io::double_quote_escape<',', '"'>>;

/// Runs `read`, turning the parser's exceptions into Errors with the line they name.
template <typename Read>
Result<Done> guarded(const std::filesystem::path& path, const Read& read) {
  try {
    return read();
  } catch (const io::error::missing_column_in_header& e) {
    return bad(path, 1, std::string("the head row lacks the column ") + e.column_name);
  } catch (const io::error::header_missing&) {
    return bad(path, 1, "is empty: a head row is needed");
  } catch (const io::error::with_file_line& e) {
    return bad(path, e.file_line > 0 ? static_cast<unsigned>(e.file_line) : 0,
               "not readable as comma-separated values: too few or too many columns, or a quotation mark is missing");
  } catch (const io::error::base& e) {
    return bad(path, 0, "not readable as comma-separated values");
  }
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); });
  return text;
}

std::string base_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

/// The view and hand of a row; a complaint where they are neither empty nor known.
std::string take_words(PhotoClaim& claim, const std::string& view, const std::string& hand) {
  if (lower(view) == "plan") claim.view = ViewKind::kPlan;
  if (lower(view) == "profile") claim.view = ViewKind::kProfile;
  if (!view.empty() && !claim.view) return "view '" + view + "' is not known: plan or profile";
  if (lower(hand) == "left") claim.hand = Hand::kLeft;
  if (lower(hand) == "right") claim.hand = Hand::kRight;
  if (!hand.empty() && !claim.hand) return "hand '" + hand + "' is not known: left or right";
  return {};
}

void add_row(std::vector<ListedPhoto>& listed, const std::string& photo, const PhotoClaim& claim) {
  const auto known = std::find_if(listed.begin(), listed.end(), [&](const ListedPhoto& l) { return l.photo == photo; });
  if (known == listed.end()) {
    listed.push_back({photo, claim});
  } else {
    known->claim.numbers.push_back(claim.numbers.front());
  }
}

}  // namespace

Result<std::vector<ListedPhoto>> read_cutter_list(const std::filesystem::path& path) {
  const Result<std::string> text = text_in(path);
  if (!text.ok()) return text.error();
  std::vector<ListedPhoto> listed;
  const Result<Done> done = guarded(path, [&]() -> Result<Done> {
    std::istringstream stream(*text);
    Rows<4> rows(path.string(), stream);
    rows.read_header(io::ignore_extra_column | io::ignore_missing_column, "photo", "number", "view", "hand");
    for (const char* needed : {"photo", "number"}) {
      if (!rows.has_column(needed)) return bad(path, 1, std::string("the head row lacks the column ") + needed);
    }
    std::string photo, number, view, hand;
    while (rows.read_row(photo, number, view, hand)) {
      const unsigned line = rows.get_file_line();
      const Result<double> value = parse_number(number);
      if (!value.ok() || *value != std::floor(*value) || *value < 1 || *value > kMostCutters) {
        return bad(path, line,
                   "number '" + number + "' is no cutter's: a whole number from 1 to " + std::to_string(kMostCutters));
      }
      if (photo.empty()) return bad(path, line, "names no photograph");
      PhotoClaim claim{{static_cast<int>(*value)}, {}, {}};
      const std::string complaint = take_words(claim, view, hand);
      if (!complaint.empty()) return bad(path, line, complaint);
      add_row(listed, base_name(photo), claim);
      view.clear();
      hand.clear();
    }
    return Done{};
  });
  if (!done.ok()) return done.error();
  return listed;
}

Result<std::vector<StrokeCount>> read_stroke_counts(const std::filesystem::path& path) {
  std::error_code ignored;
  if (!std::filesystem::exists(path, ignored)) return std::vector<StrokeCount>{};
  const Result<std::string> text = text_in(path);
  if (!text.ok()) return text.error();
  std::vector<StrokeCount> counts;
  const Result<Done> done = guarded(path, [&]() -> Result<Done> {
    std::istringstream stream(*text);
    Rows<5> rows(path.string(), stream);
    rows.read_header(io::ignore_extra_column, "chain", "cutter", "strokes", "bevel_mm", "u_mm");
    std::string chain, cutter, strokes, bevel, u;
    while (rows.read_row(chain, cutter, strokes, bevel, u)) {
      StrokeCount count;
      count.chain = chain;
      double number = 0;
      const std::pair<const std::string&, double&> cells[] = {
          {cutter, number}, {strokes, count.strokes}, {bevel, count.bevel_mm}, {u, count.u_mm}};
      for (const auto& [cell, value] : cells) {
        const Result<double> read = parse_number(cell);
        if (!read.ok()) return bad(path, rows.get_file_line(), "'" + cell + "': " + read.error().what);
        value = *read;
      }
      if (!(count.strokes > 0) || !(count.u_mm > 0)) {
        return bad(path, rows.get_file_line(), "strokes and u_mm must be over zero");
      }
      count.cutter = static_cast<int>(number);
      counts.push_back(count);
    }
    return Done{};
  });
  if (!done.ok()) return done.error();
  return counts;
}

std::string stroke_rows(const std::vector<StrokeCount>& before, const std::vector<StrokeCount>& more) {
  std::string text = "chain,cutter,strokes,bevel_mm,u_mm\n";
  for (const std::vector<StrokeCount>* rows : {&before, &more}) {
    for (const StrokeCount& c : *rows) {
      std::string chain = c.chain;
      std::replace_if(
          chain.begin(), chain.end(), [](char ch) { return ch == ',' || ch == '"' || ch == '\n' || ch == '\r'; }, ' ');
      text += chain + "," + std::to_string(c.cutter) + "," + fixed(c.strokes, 1) + "," + fixed(c.bevel_mm, 4) + "," +
              fixed(c.u_mm, 4) + "\n";
    }
  }
  return text;
}

}  // namespace glintline
