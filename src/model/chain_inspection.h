#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "model/chain_sheet.h"
#include "model/filing_plan.h"
#include "model/inspection.h"

namespace glintline {

/// How a cutter came by its number.
enum class NumberedBy { kTag, kFileName, kList, kOrder };

/// Where a photograph shows a cutter: ChainInspection::photos[photo].cutters[cutter].
struct CutterSighting {
  std::size_t photo = 0;
  std::size_t cutter = 0;
};

/// One cutter with all its views taken together. Pixel positions and marks stay with the photographs.
struct JoinedCutter {
  int number = 0;  ///< place along the chain from the mark on, counted from 1
  NumberedBy numbered_by = NumberedBy::kTag;
  std::optional<Hand> hand;
  std::string place;           ///< "8th left-hander behind the mark"
  CutterMeasurement measured;  ///< joined values; `marks` is empty, `corner_px` means nothing
  Verdict verdict;
  std::vector<CutterSighting> sightings;  ///< what was joined
  std::vector<ViewKind> missing_views;
  std::vector<std::string>
      contradictions;  ///< views or photographs that disagree beyond their u95, shown and not averaged away
};

/// A photograph to take, or to take again.
struct Retake {
  std::optional<int> number;
  std::optional<ViewKind> view;
  std::string photo_path;  ///< of the spoiled one; empty where none was taken
  std::string why;
};

/// What to do with the whole chain, worst first.
enum class ChainAction {
  kRetire,    ///< reported crack or loose rivet, or too little left on it
  kOutOfUse,  ///< a gauge is too low: not to be run until the plan is carried out or the cutter is gone
  kFile,      ///< as the plan says
  kUse,       ///< nothing to do
  kUndecided,
};

struct ChainVerdict {
  ChainAction action = ChainAction::kUndecided;
  std::vector<std::string> why;           ///< most important first
  std::vector<std::string> cannot_claim;  ///< what the cutters looked at leave open
  std::vector<std::string> look_next;     ///< which cutters to photograph next, and why
};

/// What the user saw on the chain himself, which no photograph overrules.
struct ReportedFault {
  std::string what;           ///< "crack", "loose rivet", "broken"
  std::optional<int> number;  ///< of the cutter at or behind which it is
};

/// One chain on one day: all its photographs, its cutters, what to do. Assembled once by pipeline, never changed.
struct ChainInspection {
  ChainSheet sheet;
  Limits limits;
  std::vector<Inspection> photos;
  std::vector<JoinedCutter> cutters;    ///< in the order of their numbers
  std::optional<int> expected_cutters;  ///< from drive links and sequence
  std::vector<Retake> retakes;
  std::vector<ReportedFault> reported;
  ChainVerdict verdict;
  FilingPlan plan;
  Counting counting = Counting::kBehind;  ///< as it was stated, or told from the photographs
  std::vector<std::string> notes;         ///< contradictions of numbering, doubled photographs, what was left out
};

}  // namespace glintline
