// The report's chapter on a chain's life.
#include <algorithm>

#include "base/text.h"
#include "report/history_words.h"
#include "report/report_view.h"
#include "report/words.h"

namespace glintline {
namespace {

ViewJson figure(const std::string& value, const std::string& name) { return {{"value", value}, {"name", name}}; }

ViewJson figures_of(const ChainHistory& history) {
  ViewJson list = ViewJson::array();
  if (!history.points.empty()) {
    const HistoryPoint& last = history.points.back();
    if (last.hours > 0) list.push_back(figure(fixed(last.hours, 1) + " h", "worked, as recorded"));
    if (last.tanks > 0) list.push_back(figure(fixed(last.tanks, 1), "tanks or charges"));
    if (last.area_m2 > 0) list.push_back(figure(fixed(last.area_m2, 1) + " m²", "cut"));
  }
  list.push_back(figure(std::to_string(history.filings), history.filings == 1 ? "filing" : "filings"));
  if (history.sharpenings_left) {
    list.push_back(figure("about " + fixed(history.sharpenings_left->likely, 0) + " (" +
                              fixed(history.sharpenings_left->least, 0) + " to " +
                              fixed(history.sharpenings_left->most, 0) + ")",
                          "sharpenings left"));
  }
  if (history.cost) list.push_back(figure(fixed(*history.cost, 2) + " " + history.currency, "spent so far"));
  if (history.cost_per_hour) {
    list.push_back(figure(fixed(*history.cost_per_hour, 2) + " " + history.currency, "an hour so far"));
  }
  return list;
}

std::string shown(const std::optional<Quantity>& quantity, int decimals, const std::string& unit) {
  return quantity ? with_u95(*quantity, decimals, " ± ") + unit : "";
}

ViewJson inspection_row(const HistoryPoint& point) {
  return {{"kind", "inspected"},
          {"at", shown_time(point.at)},
          {"what", (point.stage.empty() ? std::string("inspected") : point.stage) + " (" +
                       counted(point.cutters, "cutter") + ")"},
          {"length", shown(point.length_mm, 2, " mm")},
          {"rounding", shown(point.rounding_um, 0, " µm")},
          {"drop", shown(point.drop_mm, 2, " mm")},
          {"chips", point.chips_a_cutter ? fixed(*point.chips_a_cutter, 2) + " a cutter" : ""}};
}

ViewJson event_row(const ChainEvent& event) {
  return {{"kind", "happened"},
          {"at", shown_time(event.at)},
          {"what", event_words(event)},
          {"length", ""},
          {"rounding", ""},
          {"drop", ""},
          {"chips", ""}};
}

}  // namespace

ViewJson history_view(const ChainHistory& history) {
  std::vector<ViewJson> rows;
  for (const HistoryPoint& point : history.points) rows.push_back(inspection_row(point));
  for (const ChainEvent& event : history.events) rows.push_back(event_row(event));
  std::stable_sort(rows.begin(), rows.end(), [](const ViewJson& a, const ViewJson& b) {
    return a["at"].get<std::string>() < b["at"].get<std::string>();
  });
  ViewJson charts = ViewJson::array();
  if (history.points.size() > 1) {
    const auto known = [&](std::optional<Quantity> HistoryPoint::*quantity) {
      return std::any_of(history.points.begin(), history.points.end(),
                         [&](const HistoryPoint& point) { return (point.*quantity).has_value(); });
    };
    const auto add = [&](const char* id, const char* title) {
      charts.push_back({{"id", id}, {"title", title}, {"spoken", std::string(title) + " over the chain's life"}});
    };
    if (known(&HistoryPoint::rounding_um)) add("life-rounding", "Mean rounding");
    if (known(&HistoryPoint::length_mm)) add("life-length", "Mean length");
    if (known(&HistoryPoint::drop_mm)) add("life-drop", "Mean gauge drop");
  }
  ViewJson statements = ViewJson::array();
  for (const std::string& line : history.statements) statements.push_back(with_sign(line));
  return {{"figures", figures_of(history)}, {"charts", charts}, {"rows", rows}, {"statements", statements}};
}

}  // namespace glintline
