#pragma once

#include <string>
#include <vector>

#include "base/result.h"
#include "model/inspection.h"

namespace glintline {

/// The words every output uses for the same thing, so that table, JSON, CSV and pictures never differ.
[[nodiscard]] const char* word(Action action);
[[nodiscard]] const char* word(Hand hand);
[[nodiscard]] const char* word(ViewKind view);
[[nodiscard]] const char* word(CardKind card);
/// What the scale rests on: "wide card", or "no card, scale from the pitch" for a pose without saddles.
[[nodiscard]] std::string scale_words(const CardPose& card);
/// The fault as a key: "no_card".
[[nodiscard]] const char* word(Fault fault);

/// The decision in words; "not measured" for a cutter that is only named.
[[nodiscard]] std::string verdict_word(const InspectedCutter& cutter);

/// What stands behind the decision, most important first: the judge's reasons, what is missing, what would decide.
[[nodiscard]] std::vector<std::string> reasons_of(const InspectedCutter& cutter);

/// The few of them that a person at the bench needs first: the line that decided and the next one, what else to do, why
/// gauge drop or length is missing, and at most two ways to decide what is undecided. The rest stands in JSON and CSV.
[[nodiscard]] std::vector<std::string> main_reasons_of(const InspectedCutter& cutter);

/// The number painted or tagged on the cutter, else a letter in order of place, so that table and picture name the
/// same one alike.
[[nodiscard]] std::string label_of(const Inspection& inspection, const InspectedCutter& cutter);

/// `value +- u95`, both with `decimals` places; the uncertainty is rounded up, so that it never reads as nothing
/// (JCGM 100:2008, 7.2.6; a twentieth of the last digit is let go). `sign` is "±" or "+-".
[[nodiscard]] std::string with_u95(const Quantity& quantity, int decimals, const std::string& sign);

/// `text` with "±" and "µm" where the rooms before wrote plain "+-" and "um".
[[nodiscard]] std::string with_sign(std::string text);

/// The quantity in degrees; quantities are in radians everywhere but at the edges.
[[nodiscard]] Quantity in_degrees(const Quantity& angle_rad);

/// Stands under every result that a person acts on.
inline constexpr const char* kAdviceLine =
    "Advice only: the chain maker's instruction and local rules come first. "
    "A crack or a loose rivet ends a chain, whatever a photograph shows.";

}  // namespace glintline
