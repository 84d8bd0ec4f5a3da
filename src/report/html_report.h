#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/chain_history.h"
#include "model/comparison.h"
#include "model/recorded_inspection.h"

namespace glintline {

/// A picture of one cutter that goes into the report.
struct ReportPicture {
  int number = 0;    ///< the cutter's
  std::string jpeg;  ///< the file's bytes
  int width_px = 0;
  int height_px = 0;
  std::string caption;  ///< "p7.jpg, from above"
};

/// All that a report shows. Only the inspection must be there.
struct ReportContent {
  RecordedInspection recorded;
  std::vector<ReportPicture> pictures;
  std::optional<Comparison> comparison;
  bool filed_by_plan = false;  ///< the plan shown is that of the day before, and the comparison tells what came of it
  std::optional<ChainHistory> history;
};

/// One HTML page that needs nothing besides itself: pictures, charts and their library lie in it. Says first, in three
/// large words, what to do; then which cutters are worst; then the order of filing; then why. For a phone at the bench
/// and for A4. Every text is escaped.
[[nodiscard]] std::string html_report(const ReportContent& content);

/// The three words: "RETIRE THIS CHAIN", "FILE 12 CUTTERS".
[[nodiscard]] std::string three_words(const ChainInspection& inspection);

}  // namespace glintline
