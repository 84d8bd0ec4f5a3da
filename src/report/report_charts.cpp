// Data of the report's charts; report/page/report.js draws them.
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <limits>

#include "base/text.h"
#include "report/report_view.h"
#include "report/words.h"

namespace glintline {
namespace {

struct SeriesLook {
  const char* name;
  const char* colour;
  const char* band;
  const char* shape;
};
constexpr SeriesLook kLeft{"left hand", "#0b5c77", "rgba(11,92,119,.32)", "circle"};
constexpr SeriesLook kRight{"right hand", "#8a3b00", "rgba(138,59,0,.32)", "rect"};
constexpr SeriesLook kEither{"hand not known", "#47525f", "rgba(71,82,95,.32)", "triangle"};
constexpr SeriesLook kChain{"chain", "#16181c", "rgba(22,24,28,.25)", "circle"};

ViewJson finite(double value) {
  constexpr double kDigits = 1e4;
  return std::isfinite(value) ? ViewJson(std::round(value * kDigits) / kDigits) : ViewJson(nullptr);
}

/// What a chart shows of one cutter; a value without a dot is only known to lie in its span.
struct Span {
  std::optional<double> value;
  double low = 0;
  double high = 0;
  std::string text;
};

Span span_of(const Quantity& quantity, int decimals, const std::string& unit) {
  const double u95 = kCoverage * quantity.u();
  return {quantity.value, quantity.value - u95, quantity.value + u95, with_u95(quantity, decimals, " ± ") + unit};
}

using SpanOf = std::function<std::optional<Span>(const JoinedCutter&)>;

ViewJson limit_line(const std::string& name, double value, bool hard) {
  return {{"name", name}, {"value", finite(value)}, {"hard", hard}};
}

ViewJson series_of(const SeriesLook& look) {
  return {{"name", look.name},   {"colour", look.colour},       {"band", look.band},
          {"shape", look.shape}, {"values", ViewJson::array()}, {"spans", ViewJson::array()}};
}

void push(ViewJson& series, const std::optional<Span>& span) {
  series["values"].push_back(span && span->value ? finite(*span->value) : ViewJson(nullptr));
  series["spans"].push_back(span ? ViewJson::array({finite(span->low), finite(span->high)}) : ViewJson(nullptr));
}

bool has_span(const ViewJson& series) {
  return std::any_of(series["spans"].begin(), series["spans"].end(), [](const ViewJson& s) { return !s.is_null(); });
}

/// One interval a cutter, by hands; nothing where no cutter has the value.
ViewJson cutter_chart(const ChainInspection& inspection, const SpanOf& span_of_cutter) {
  std::array<ViewJson, 3> hands{series_of(kLeft), series_of(kRight), series_of(kEither)};
  ViewJson chart{{"kind", "intervals"},
                 {"x_title", "cutter"},
                 {"legend", true},
                 {"labels", ViewJson::array()},
                 {"texts", ViewJson::array()}};
  for (const JoinedCutter& cutter : inspection.cutters) {
    const std::optional<Span> span = span_of_cutter(cutter);
    const std::size_t own = cutter.hand ? (*cutter.hand == Hand::kLeft ? 0 : 1) : 2;
    for (std::size_t i = 0; i < hands.size(); ++i) push(hands[i], i == own ? span : std::nullopt);
    chart["labels"].push_back(std::to_string(cutter.number));
    chart["texts"].push_back(span ? span->text : "");
  }
  chart["series"] = ViewJson::array();
  for (const ViewJson& hand : hands) {
    if (has_span(hand)) chart["series"].push_back(hand);
  }
  return chart["series"].empty() ? ViewJson(nullptr) : chart;
}

/// Room for all intervals and limits, a little more on either side; a scale that begins at zero would hide how far the
/// cutters differ.
void set_range(ViewJson& chart) {
  double low = std::numeric_limits<double>::max();
  double high = std::numeric_limits<double>::lowest();
  const auto take = [&](const ViewJson& value) {
    if (!value.is_number()) return;
    low = std::min(low, value.get<double>());
    high = std::max(high, value.get<double>());
  };
  for (const ViewJson& limit : chart["limits"]) take(limit["value"]);
  for (const ViewJson& series : chart["series"]) {
    for (const ViewJson& span : series["spans"]) {
      for (const ViewJson& end : span) take(end);
    }
  }
  if (low > high) return;
  const double room = 0.06 * std::max(high - low, 1e-3);
  chart["low"] = finite(low >= 0 && low < room ? 0 : low - room);
  chart["high"] = finite(high + room);
}

void add_chart(ViewJson& charts, const std::string& id, ViewJson chart, const std::string& y_title,
               const ViewJson& limits) {
  if (chart.is_null()) return;
  chart["y_title"] = y_title;
  chart["limits"] = limits;
  set_range(chart);
  charts[id] = chart;
}

std::optional<Span> rounding_span(const JoinedCutter& cutter) {
  const CutterMeasurement& m = cutter.measured;
  if (m.edge_radius_um) return span_of(*m.edge_radius_um, 0, " µm");
  if (!m.edge_radius_limit_um) return std::nullopt;
  return Span{std::nullopt, 0, *m.edge_radius_limit_um, "none seen over " + fixed(*m.edge_radius_limit_um, 0) + " µm"};
}

std::optional<Span> chip_span(const JoinedCutter& cutter) {
  const std::vector<Chip>& chips = cutter.measured.chips;
  if (chips.empty()) {
    return cutter.measured.chips_searched ? std::optional<Span>(Span{0.0, 0, 0, "none found"}) : std::nullopt;
  }
  const auto deepest = std::max_element(
      chips.begin(), chips.end(), [](const Chip& a, const Chip& b) { return a.depth_mm.value < b.depth_mm.value; });
  return span_of(deepest->depth_mm, 2, " mm");
}

void add_chain_charts(ViewJson& charts, const ChainInspection& inspection) {
  const Limits& limits = inspection.limits;
  ViewJson lengths = ViewJson::array({limit_line("retired under", limits.retired_length_mm.value, true)});
  if (inspection.plan.target_mm) lengths.push_back(limit_line("file to", inspection.plan.target_mm->value, false));
  const auto of = [](const std::optional<Quantity>& quantity) {
    return quantity ? std::optional<Span>(span_of(*quantity, 2, " mm")) : std::nullopt;
  };
  add_chart(charts, "length", cutter_chart(inspection, [&](const JoinedCutter& c) { return of(c.measured.length_mm); }),
            "mm", lengths);
  ViewJson drops = ViewJson::array({limit_line("most allowed", limits.most_drop_mm.value, true)});
  if (!limits.growing_setting) drops.push_back(limit_line("setting", limits.gauge_setting_mm.value, false));
  add_chart(charts, "drop",
            cutter_chart(inspection, [&](const JoinedCutter& c) { return of(c.measured.gauge_drop_mm); }), "mm", drops);
  add_chart(charts, "rounding", cutter_chart(inspection, rounding_span), "µm",
            {limit_line("dull over", limits.dull_radius_um.value, true),
             limit_line("sharp up to", limits.sharp_radius_um.value, false)});
  add_chart(charts, "chips", cutter_chart(inspection, chip_span), "mm",
            ViewJson::array({limit_line("filed out from", limits.chip_depth_mm.value, true)}));
}

ViewJson xy(double x, double y) { return {{"x", finite(x)}, {"y", finite(y)}}; }

ViewJson edge_data(const EdgeChart& edge, const Limits& limits) {
  ViewJson chart{{"kind", "edge"},
                 {"radius", ViewJson::array()},
                 {"upper", ViewJson::array()},
                 {"lower", ViewJson::array()},
                 {"recession", ViewJson::array()}};
  double last_mm = 0;
  bool any_recession = false;
  for (const EdgeChartPoint& point : edge) {
    const double u95 = kCoverage * point.u_radius_um;
    chart["radius"].push_back(xy(point.s_mm, point.radius_um));
    chart["upper"].push_back(xy(point.s_mm, point.radius_um + u95));
    chart["lower"].push_back(xy(point.s_mm, std::max(0.0, point.radius_um - u95)));
    chart["recession"].push_back(xy(point.s_mm, point.recession_mm));
    any_recession = any_recession || std::isfinite(point.recession_mm);
    last_mm = std::max(last_mm, point.s_mm);
  }
  if (!any_recession) chart["recession"] = ViewJson::array();
  chart["last_mm"] = finite(last_mm);
  chart["high"] = finite(1.25 * limits.dull_radius_um.value);
  chart["limits"] = {limit_line("dull over", limits.dull_radius_um.value, true),
                     limit_line("sharp up to", limits.sharp_radius_um.value, false)};
  return chart;
}

/// One interval an inspection.
ViewJson life_chart(const ChainHistory& history, std::optional<Quantity> HistoryPoint::*quantity, int decimals,
                    const std::string& unit) {
  ViewJson series = series_of(kChain);
  ViewJson chart{
      {"kind", "intervals"},       {"x_title", ""}, {"legend", false}, {"joined", true}, {"labels", ViewJson::array()},
      {"texts", ViewJson::array()}};
  for (const HistoryPoint& point : history.points) {
    const std::optional<Quantity>& value = point.*quantity;
    const std::optional<Span> span = value ? std::optional<Span>(span_of(*value, decimals, unit)) : std::nullopt;
    push(series, span);
    chart["labels"].push_back(ViewJson::array({point.stage, point.at.substr(0, 10)}));
    chart["texts"].push_back(span ? span->text : "");
  }
  if (!has_span(series)) return nullptr;
  chart["series"] = ViewJson::array({series});
  return chart;
}

void add_life_charts(ViewJson& charts, const ChainHistory& history) {
  if (history.points.size() < 2) return;
  add_chart(charts, "life-rounding", life_chart(history, &HistoryPoint::rounding_um, 0, " µm"), "µm",
            ViewJson::array());
  add_chart(charts, "life-length", life_chart(history, &HistoryPoint::length_mm, 2, " mm"), "mm",
            ViewJson::array());
  add_chart(charts, "life-drop", life_chart(history, &HistoryPoint::drop_mm, 2, " mm"), "mm",
            ViewJson::array());
}

}  // namespace

ViewJson chart_data(const ReportContent& content) {
  ViewJson charts = ViewJson::object();
  const ChainInspection& inspection = content.recorded.inspection;
  add_chain_charts(charts, inspection);
  for (const JoinedCutter& cutter : inspection.cutters) {
    const EdgeChart& edge = edge_chart_of(inspection, cutter);
    if (!edge.empty()) charts["edge-" + std::to_string(cutter.number)] = edge_data(edge, inspection.limits);
  }
  if (content.history) add_life_charts(charts, *content.history);
  return charts;
}

}  // namespace glintline
