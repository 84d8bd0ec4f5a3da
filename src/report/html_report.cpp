#include "report/html_report.h"

#include <kainjow/mustache.hpp>

#include "report/page_parts.h"
#include "report/report_view.h"
#include "report/text_layout.h"
#include "report/words.h"

namespace glintline {
namespace {

namespace mustache = kainjow::mustache;

constexpr const char* kCaution =
    "Engine off, plug or battery out, chain cold, gloves on, before a hand comes near the chain.";

/// What the template library wants; every text passes `printable` here, so that broken bytes of a file's name cannot
/// spoil the page. The library escapes it.
mustache::data template_data(const ViewJson& view) {
  if (view.is_object()) {
    mustache::data object{mustache::data::type::object};
    for (const auto& [name, value] : view.items()) object.set(name, template_data(value));
    return object;
  }
  if (view.is_array()) {
    mustache::data list{mustache::data::type::list};
    for (const ViewJson& element : view) list.push_back(template_data(element));
    return list;
  }
  if (view.is_boolean()) return mustache::data{view.get<bool>()};
  if (view.is_null()) return mustache::data{false};
  const std::string text = view.is_string() ? printable(view.get<std::string>()) : view.dump();
  return text.empty() ? mustache::data{false} : mustache::data{text};
}

/// JSON that can lie inside a script element: no text in it may end the element or begin a comment.
std::string script_json(const ViewJson& json) {
  std::string safe;
  for (const char c : json.dump(-1, ' ', false, ViewJson::error_handler_t::replace)) {
    if (c == '<' || c == '>' || c == '&') {
      safe += c == '<' ? "\\u003c" : c == '>' ? "\\u003e" : "\\u0026";
    } else {
      safe += c;
    }
  }
  return safe;
}

void add_all(ViewJson& page, const ViewJson& part) {
  for (const auto& [name, value] : part.items()) page[name] = value;
}

constexpr const char* kChainCharts[][2] = {{"length", "Length of the cutters, mm"},
                                           {"drop", "Gauge drop, mm"},
                                           {"rounding", "Rounding of the edge, µm"},
                                           {"chips", "Deepest chip, mm"}};

ViewJson chart_list(const ViewJson& charts) {
  ViewJson list = ViewJson::array();
  for (const auto& [id, title] : kChainCharts) {
    if (!charts.contains(id)) continue;
    list.push_back(
        {{"id", id}, {"title", title}, {"spoken", std::string(title) + ": the figures stand in the tables"}});
  }
  return list;
}

ViewJson page_view(const ReportContent& content, const ViewJson& charts) {
  ViewJson page = head_view(content);
  add_all(page, {{"strip", strip_view(content.recorded.inspection)["hands"]},
                 {"key", strip_view(content.recorded.inspection)["key"]}});
  add_all(page, order_view(content.recorded.inspection));
  page["bench"] = bench_view(content);
  page["charts"] = chart_list(charts);
  page["has_charts"] = !page["charts"].empty();
  page["has_comparison"] = content.comparison.has_value();
  if (content.comparison) add_all(page, comparison_view(*content.comparison));
  page["cutters"] = cutter_views(content);
  page["history"] = content.history ? history_view(*content.history) : ViewJson(nullptr);
  add_all(page, ground_view(content.recorded.inspection));
  page["caution"] = kCaution;
  page["advice"] = kAdviceLine;
  return page;
}

}  // namespace

std::string html_report(const ReportContent& content) {
  const ViewJson charts = chart_data(content);
  mustache::data page = template_data(page_view(content, charts));
  page.set("style", std::string(page_style()));
  page.set("library", std::string(chart_library()));
  page.set("script", std::string(page_script()));
  page.set("chart_data", script_json(charts));
  mustache::mustache form{std::string(page_template())};
  return form.render(page);
}

}  // namespace glintline
