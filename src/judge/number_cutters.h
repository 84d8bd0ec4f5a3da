#pragma once

#include <optional>
#include <string>
#include <vector>

#include "judge/cutter_sequence.h"
#include "model/chain_inspection.h"
#include "model/photo_claim.h"

namespace glintline {

/// What is said of a photograph besides its pixels.
struct PhotoClaims {
  PhotoClaim by_name;
  std::optional<PhotoClaim> by_list;
};

struct CutterNumber {
  int number = 0;
  NumberedBy by = NumberedBy::kTag;
};

/// Which cutter of the chain every measured cutter is.
struct Numbering {
  CutterSequence sequence;
  std::vector<std::vector<std::optional<CutterNumber>>> numbers;  ///< [photo][cutter in it]
  std::vector<Retake> retakes;                                    ///< photographs that were refused or named wrongly
  std::vector<std::string> notes;                                 ///< contradictions, doubled files, what was left out
};

struct NumberingTask {
  const std::vector<Inspection>& photos;   ///< in the order in which they were taken, as their names tell it
  const std::vector<PhotoClaims>& claims;  ///< as many as photos
  const ChainSheet& sheet;
  std::optional<int> start;  ///< number of the first cutter in order, where nothing else tells; nothing: 1
};

/// Numbers every cutter, by the best that is there: a tag in the picture, its neighbours by their place along the
/// chain, the file's name, the user's list, at last the order of the photographs of one view between two known ones.
///
/// A name is not believed where the cutter is of the wrong hand; where photographs in order do not fill the gap between
/// two known cutters, or hands do not alternate, none of them gets a number. A shape that does not stand a whole number
/// of cutters from its numbered neighbour is left out. What was not believed is told in `notes`.
/// The way of counting is the sheet's, else what two tags in one picture prove, else the one under which fewer cutters
/// lack a view, else against the running direction.
[[nodiscard]] Numbering number_cutters(const NumberingTask& task);

}  // namespace glintline
