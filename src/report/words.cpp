#include "report/words.h"

#include <algorithm>

#include "base/text.h"

namespace glintline {

const char* word(Action action) {
  switch (action) {
    case Action::kRetire:
      return "retire";
    case Action::kGaugeTooLow:
      return "gauge too low";
    case Action::kUndecided:
      return "undecided";
    case Action::kFile:
      return "file";
    case Action::kLowerGauge:
      return "lower gauge";
    case Action::kTouchUp:
      return "touch up";
    case Action::kLeave:
      return "leave";
  }
  return "undecided";
}

const char* word(Hand hand) { return hand == Hand::kLeft ? "left" : "right"; }

const char* word(ViewKind view) { return view == ViewKind::kProfile ? "profile" : "plan"; }

const char* word(CardKind card) { return card == CardKind::kWide ? "wide" : "close"; }

std::string scale_words(const CardPose& card) {
  return card.saddles > 0 ? std::string(word(card.kind)) + " card" : "no card, scale from the pitch";
}

const char* word(Fault fault) {
  switch (fault) {
    case Fault::kBadOption:
      return "bad_option";
    case Fault::kFileMissing:
      return "file_missing";
    case Fault::kNotAPicture:
      return "not_a_picture";
    case Fault::kDamagedPicture:
      return "damaged_picture";
    case Fault::kTooLarge:
      return "too_large";
    case Fault::kTooSmall:
      return "too_small";
    case Fault::kTooCoarse:
      return "too_coarse";
    case Fault::kNoCard:
      return "no_card";
    case Fault::kWrongCard:
      return "wrong_card";
    case Fault::kCardHidden:
      return "card_hidden";
    case Fault::kTilted:
      return "tilted";
    case Fault::kBlurred:
      return "blurred";
    case Fault::kNoCutter:
      return "no_cutter";
    case Fault::kNotMeasurable:
      return "not_measurable";
    case Fault::kCannotWrite:
      return "cannot_write";
    case Fault::kUnforeseen:
      return "unforeseen";
  }
  return "not_measurable";
}

std::string verdict_word(const InspectedCutter& cutter) {
  return cutter.measured.over_field ? word(cutter.verdict.action) : "not measured";
}

namespace {

void add_also(std::vector<std::string>& reasons, const Verdict& verdict) {
  for (const Action action : verdict.also) reasons.push_back(std::string("also: ") + word(action));
}

void replace_all(std::string& text, const std::string& what, const std::string& by) {
  for (std::size_t at = text.find(what); at != std::string::npos; at = text.find(what, at + by.size())) {
    text.replace(at, what.size(), by);
  }
}

}  // namespace

std::vector<std::string> reasons_of(const InspectedCutter& cutter) {
  std::vector<std::string> reasons = cutter.verdict.why;
  add_also(reasons, cutter.verdict);
  for (const std::string& missing : cutter.measured.missing) {
    if (std::find(reasons.begin(), reasons.end(), missing) == reasons.end()) reasons.push_back(missing);
  }
  for (const std::string& need : cutter.verdict.would_decide) reasons.push_back("would decide it: " + need);
  return reasons;
}

namespace {

/// True where a line says why a picture that should have shown gauge or length did not.
bool is_a_main_loss(const std::string& missing) {
  return missing.starts_with("gauge drop") || missing.starts_with("length");
}

}  // namespace

std::vector<std::string> main_reasons_of(const InspectedCutter& cutter) {
  constexpr std::size_t kMost = 2;
  if (!cutter.measured.over_field || cutter.verdict.why.empty()) return reasons_of(cutter);
  const Verdict& verdict = cutter.verdict;
  std::vector<std::string> reasons(verdict.why.begin(), verdict.why.begin() + std::min(kMost, verdict.why.size()));
  add_also(reasons, verdict);
  for (const std::string& missing : cutter.measured.missing) {
    const bool said = std::find(reasons.begin(), reasons.end(), missing) != reasons.end();
    if (!said && is_a_main_loss(missing)) reasons.push_back(missing);
  }
  if (verdict.action != Action::kUndecided) return reasons;
  for (std::size_t i = 0; i < std::min(kMost, verdict.would_decide.size()); ++i) {
    reasons.push_back("would decide it: " + verdict.would_decide[i]);
  }
  return reasons;
}

std::string label_of(const Inspection& inspection, const InspectedCutter& cutter) {
  if (cutter.measured.number) return std::to_string(*cutter.measured.number);
  constexpr int kLetters = 26;
  int unnamed = 0;
  for (const InspectedCutter& other : inspection.cutters) {
    if (&other == &cutter) break;
    if (!other.measured.number) ++unnamed;
  }
  return std::string(static_cast<std::size_t>(1 + unnamed / kLetters), static_cast<char>('A' + unnamed % kLetters));
}

std::string with_u95(const Quantity& quantity, int decimals, const std::string& sign) {
  return fixed(quantity.value, decimals) + sign + rounded_up(kCoverage * quantity.u(), decimals);
}

std::string with_sign(std::string text) {
  replace_all(text, "+-", "±");
  for (const char* after : {" ", ":", ",", ";", ".", ")"}) {
    replace_all(text, std::string(" um").append(after), std::string(" µm").append(after));
  }
  const bool ends_in_um = text.size() > 3 && text.ends_with(" um") && std::isdigit(text[text.size() - 4]) != 0;
  if (ends_in_um) text.replace(text.size() - 2, 2, "µm");
  return text;
}

Quantity in_degrees(const Quantity& angle_rad) {
  constexpr double kDegrees = 180.0 / M_PI;
  Quantity degrees = angle_rad;
  degrees.value *= kDegrees;
  for (BudgetLine& line : degrees.budget) line.u *= kDegrees;
  return degrees;
}

}  // namespace glintline
