#include "read/photo_name.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <string>

namespace glintline {

namespace {

struct Word {
  std::string text;  ///< lower case
  bool digits = false;
};

bool is_digit(char c) { return std::isdigit(static_cast<unsigned char>(c)) != 0; }
bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) != 0; }

std::vector<Word> words_of(std::string_view stem) {
  std::vector<Word> words;
  bool open = false;
  for (const char c : stem) {
    if (!is_digit(c) && !is_letter(c)) {
      open = false;
      continue;
    }
    if (!open || words.back().digits != is_digit(c)) words.push_back({"", is_digit(c)});
    words.back().text += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    open = true;
  }
  return words;
}

template <std::size_t N>
bool one_of(const Word& word, const std::array<const char*, N>& known) {
  return std::find(known.begin(), known.end(), word.text) != known.end();
}

constexpr std::array<const char*, 4> kCutterWords{"c", "cutter", "no", "nr"};
constexpr std::array<const char*, 3> kPlanWords{"plan", "top", "above"};
constexpr std::array<const char*, 2> kProfileWords{"profile", "side"};

bool names_view(const Word& word) { return one_of(word, kPlanWords) || one_of(word, kProfileWords); }

/// A cutter's number has three digits at the most: longer ones are dates and a camera's counter.
std::optional<int> cutter_number(const Word& word) {
  constexpr std::size_t kMostDigits = 3;
  if (!word.digits || word.text.size() > kMostDigits) return std::nullopt;
  const int number = std::stoi(word.text);
  return number >= 1 ? std::optional<int>(number) : std::nullopt;
}

std::vector<int> numbers_behind_cutter_words(const std::vector<Word>& words) {
  std::vector<int> numbers;
  for (std::size_t i = 0; i + 1 < words.size(); ++i) {
    const auto number = cutter_number(words[i + 1]);
    if (one_of(words[i], kCutterWords) && number) numbers.push_back(*number);
  }
  return numbers;
}

std::vector<int> number_beside_view(const std::vector<Word>& words) {
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (!names_view(words[i])) continue;
    if (i + 1 < words.size()) {
      if (const auto behind = cutter_number(words[i + 1])) return {*behind};
    }
    if (i > 0) {
      if (const auto before = cutter_number(words[i - 1])) return {*before};
    }
  }
  return {};
}

}  // namespace

PhotoClaim claim_of_name(std::string_view path) {
  const std::string_view name = path.substr(path.find_last_of('/') + 1);
  const std::vector<Word> words = words_of(name.substr(0, name.find_last_of('.')));
  PhotoClaim claim;
  for (const Word& word : words) {
    if (one_of(word, kPlanWords)) claim.view = ViewKind::kPlan;
    if (one_of(word, kProfileWords)) claim.view = ViewKind::kProfile;
    if (word.text == "left") claim.hand = Hand::kLeft;
    if (word.text == "right") claim.hand = Hand::kRight;
  }
  claim.numbers = numbers_behind_cutter_words(words);
  if (claim.numbers.empty()) claim.numbers = number_beside_view(words);
  if (claim.numbers.empty() && words.size() == 1) {
    if (const auto number = cutter_number(words[0])) claim.numbers = {*number};
  }
  return claim;
}

}  // namespace glintline
