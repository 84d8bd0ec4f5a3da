#pragma once

#include <nlohmann/json.hpp>

#include "report/html_report.h"

namespace glintline {

using ViewJson = nlohmann::ordered_json;

/// How a decision looks: its ground (a CSS class), its sign (a shape, so that colour is never the only sign), its word.
struct ActionLook {
  const char* look;
  const char* sign;
  const char* meaning;
};
[[nodiscard]] ActionLook look_of(Action action);

/// Texts as they stand on the page, by the template's names (report/page/report.mustache); unescaped.
[[nodiscard]] ViewJson head_view(const ReportContent& content);
[[nodiscard]] ViewJson strip_view(const ChainInspection& inspection);
[[nodiscard]] ViewJson order_view(const ChainInspection& inspection);
[[nodiscard]] ViewJson cutter_views(const ReportContent& content);
[[nodiscard]] ViewJson comparison_view(const Comparison& comparison);
[[nodiscard]] ViewJson history_view(const ChainHistory& history);
[[nodiscard]] ViewJson ground_view(const ChainInspection& inspection);

/// One sheet of paper to file by, or as many as the cutters need: plan and, where there is one, its proof.
[[nodiscard]] ViewJson bench_view(const ReportContent& content);

/// What is done to one cutter, number and u95 apart.
[[nodiscard]] ViewJson work_view(const CutterWork& work);
/// The plan's works in its filing order; those that are not in it follow. Without those that ask for nothing.
[[nodiscard]] std::vector<const CutterWork*> ordered_work(const ChainInspection& inspection);
/// "First the left-hand cutters"
[[nodiscard]] std::string round_title(const std::optional<Hand>& hand, bool first);
/// "All cutters to 7.31 ± 0.10 mm, set by cutter 7."; empty where nothing is known, as below.
[[nodiscard]] std::string target_text(const FilingPlan& plan);
[[nodiscard]] std::string stroke_text(const StrokeStock& stock);
[[nodiscard]] std::string sharpenings_text(const FilingPlan& plan);

/// "2026-11-02 14:30"
[[nodiscard]] std::string shown_time(std::string at);

/// Number and u95 apart: {"0.42", "0.06"}.
struct SplitText {
  std::string value;
  std::string u95;
};
[[nodiscard]] SplitText split_text(const Quantity& quantity, int decimals);

/// The cutter's r(s): the joined one, else that of the first sighting that has one.
[[nodiscard]] const EdgeChart& edge_chart_of(const ChainInspection& inspection, const JoinedCutter& cutter);

/// Data for report/page/report.js, by chart: "length", "drop", "rounding", "chips", "edge-7", "life-rounding", ...;
/// charts without a value are not there.
[[nodiscard]] ViewJson chart_data(const ReportContent& content);

}  // namespace glintline
