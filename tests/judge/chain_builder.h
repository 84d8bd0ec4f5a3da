#pragma once

#include <optional>
#include <string>
#include <vector>

#include "judge/join_views.h"
#include "judge/number_cutters.h"
#include "judge/plan_filing.h"
#include "model/chain_inspection.h"

namespace glintline::testing {

/// A cutter as it truly is, and how well photographs see it. Standard uncertainties.
struct CutterFacts {
  int number = 1;
  Hand hand = Hand::kLeft;
  double length_mm = 8;
  double corner_wear_mm = 0;
  double drop_mm = 0.65;
  double radius_um = 10;
  std::optional<double> radius_limit_um;  ///< no rounding is seen, and none over this would have gone unseen
  double angle_deg = 30;
  double slope_deg = 5;
  std::vector<double> chip_depths_mm;
  double u_length_mm = 0.01;
  double u_drop_mm = 0.01;
};

/// Odd numbers are left-handers.
[[nodiscard]] CutterFacts cutter_facts(int number, double length_mm = 8);

/// Cutters 1 to `count`, all alike.
[[nodiscard]] std::vector<CutterFacts> cutters_alike(int count, double length_mm = 8, double radius_um = 10);
/// Cutters from 1 on, of these lengths.
[[nodiscard]] std::vector<CutterFacts> cutters_of(const std::vector<double>& lengths_mm);
/// A full loop of 3/8 chain.
[[nodiscard]] ChainSheet loop(int drive_links, std::optional<Hand> first = Hand::kLeft);

/// A photograph that shows these cutters, rear to front as given, 37 mm apart; a tag lies beside the first where
/// wanted.
[[nodiscard]] Inspection profile_of(const std::string& path, const std::vector<CutterFacts>& cutters, bool tag = true);
[[nodiscard]] Inspection plan_of(const std::string& path, const CutterFacts& cutter, bool tag = true);
[[nodiscard]] Inspection refused(const std::string& path, const std::string& why);

/// Both views of every cutter, tagged.
[[nodiscard]] std::vector<Inspection> both_views(const std::vector<CutterFacts>& cutters);

/// Photographs numbered, joined, planned.
struct BuiltChain {
  std::vector<Inspection> photos;
  ChainSheet sheet;
  Limits limits;
  Numbering numbering;
  std::vector<JoinedCutter> cutters;
  FilingPlan plan;

  [[nodiscard]] ChainPhotos chain() const { return {photos, 0, 0}; }
};
/// The chain as the pipeline would hand it on, without a verdict.
[[nodiscard]] ChainInspection inspection_of(const BuiltChain& chain);
[[nodiscard]] BuiltChain built(std::vector<Inspection> photos, const ChainSheet& sheet = {},
                               std::vector<PhotoClaims> claims = {}, const StrokeStock* stock = nullptr);

}  // namespace glintline::testing
