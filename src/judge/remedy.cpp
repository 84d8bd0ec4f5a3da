#include "judge/remedy.h"

namespace glintline {

namespace {

std::string remedy(Source source, ViewKind view) {
  switch (source) {
    case Source::kEdge:
      return "come closer, or take it sharper: more pixels to the millimetre, in focus, held still";
    case Source::kPose:
      return "less tilt: hold the camera square to the card, with more of the card in the picture";
    case Source::kFocal:
      return "a camera file of this camera, or the cutter under the middle of the picture";
    case Source::kPrint:
      return "measure the card's two check bars and give them (--printed)";
    case Source::kStandOff:
      return "measure the height over the card and give it (--standoff)";
    case Source::kThickness:
      return view == ViewKind::kProfile
                 ? "put the top plates under the middle of the picture, or write the chain's thicknesses into its sheet"
                 : "put the cutter under the middle of the picture";
    case Source::kFlatness:
      return "lay the card flat";
    case Source::kDefinition:
      return "clean the cutter and take off the burr, then photograph it in other light";
  }
  return {};
}

}  // namespace

std::vector<std::string> remedies(const Quantity& value, const std::string& by_hand, ViewKind view) {
  std::vector<std::string> found;
  if (const BudgetLine* largest = value.largest()) found.push_back(remedy(largest->source, view));
  if (!by_hand.empty()) found.push_back(by_hand);
  return found;
}

}  // namespace glintline
