#include "judge/cutter_sequence.h"

#include <cmath>

namespace glintline {

std::optional<CutterCount> expected_cutters(const ChainSheet& sheet) {
  if (!sheet.drive_links) return std::nullopt;
  const double links = *sheet.drive_links;
  const double step = sheet.sequence == Sequence::kFull ? 2 : sheet.sequence == Sequence::kSemiSkip ? 2.5 : 3;
  const double count = links / step;
  return CutterCount{static_cast<int>(std::floor(count)), count == std::floor(count)};
}

Hand other_hand(Hand hand) { return hand == Hand::kLeft ? Hand::kRight : Hand::kLeft; }

std::optional<Hand> CutterSequence::hand_of(int number) const {
  if (!first) return std::nullopt;
  const int flips = number - 1 + (alike_after && number > *alike_after ? 1 : 0);
  return flips % 2 == 0 ? *first : other_hand(*first);
}

std::string ordinal(int number) {
  const int tens = number / 10 % 10;
  const int ones = number % 10;
  const char* ending = "th";
  if (tens != 1 && ones == 1) ending = "st";
  if (tens != 1 && ones == 2) ending = "nd";
  if (tens != 1 && ones == 3) ending = "rd";
  return std::to_string(number) + ending;
}

std::string CutterSequence::place_of(int number) const {
  const std::string where = counting == Counting::kBehind ? " behind the mark" : " ahead of the mark";
  const std::optional<Hand> hand = hand_of(number);
  if (!hand) return ordinal(number) + " cutter" + where;
  int alike = 0;
  for (int n = 1; n <= number; ++n) alike += hand_of(n) == hand ? 1 : 0;
  return ordinal(alike) + (*hand == Hand::kLeft ? " left-hander" : " right-hander") + where;
}

std::optional<int> CutterSequence::moved(int number, int steps) const {
  const int moved = number + steps;
  if (count && *count > 0) return ((moved - 1) % *count + *count) % *count + 1;
  return moved >= 1 ? std::optional<int>(moved) : std::nullopt;
}

}  // namespace glintline
