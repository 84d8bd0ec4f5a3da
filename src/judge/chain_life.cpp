#include "judge/chain_life.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>
#include <tuple>

#include "base/text.h"
#include "judge/sighted_values.h"
#include "judge/wording.h"

namespace glintline {
namespace {

/// A value of each cutter that has it.
struct CutterValues {
  std::vector<int> numbers;
  std::vector<TracedValue> values;
};

struct WatchedQuantity {
  QuantityOf member;
  CutterValue what;
};
constexpr WatchedQuantity kLengthOf{&CutterMeasurement::length_mm, CutterValue::kLength};
constexpr WatchedQuantity kRoundingOf{&CutterMeasurement::edge_radius_um, CutterValue::kRadius};
constexpr WatchedQuantity kDropOf{&CutterMeasurement::gauge_drop_mm, CutterValue::kDrop};

/// Half the limit under which no rounding would have been seen.
std::optional<TracedValue> unseen_rounding(const JoinedCutter& cutter, int day) {
  const std::optional<double>& limit = cutter.measured.edge_radius_limit_um;
  if (!limit || !std::isfinite(*limit)) return std::nullopt;
  ErrorOrigin origin;
  origin.photo = static_cast<std::size_t>(day);
  origin.cutter = static_cast<std::size_t>(cutter.number);
  origin.what = static_cast<int>(CutterValue::kRadius);
  return traced({*limit / 2, {{Source::kDefinition, *limit / std::sqrt(12.0)}}}, origin);
}

std::optional<TracedValue> value_of(const RecordedInspection& recorded, int day, const JoinedCutter& cutter,
                                    const WatchedQuantity& quantity) {
  const ChainPhotos chain{recorded.inspection.photos, day, day};
  const std::optional<JoinedValue> seen = joined_value(chain, cutter, quantity.member, quantity.what);
  if (seen) return seen->value;
  return quantity.what == CutterValue::kRadius ? unseen_rounding(cutter, day) : std::nullopt;
}

CutterValues values_of(const RecordedInspection& recorded, int day, const WatchedQuantity& quantity) {
  CutterValues all;
  for (const JoinedCutter& cutter : recorded.inspection.cutters) {
    const std::optional<TracedValue> value = value_of(recorded, day, cutter, quantity);
    if (!value) continue;
    all.numbers.push_back(cutter.number);
    all.values.push_back(*value);
  }
  return all;
}

TracedValue mean_of(const std::vector<TracedValue>& values) {
  TracedValue mean;
  for (const TracedValue& value : values) mean.add(1.0 / static_cast<double>(values.size()), value);
  return mean;
}

/// s sqrt((1 - n/N) / n) of a mean of n out of N; one value of many tells nothing of s, so its own size stands for it.
double sampling_u(const std::vector<TracedValue>& values, int of) {
  const auto n = static_cast<double>(values.size());
  if (n >= of) return 0;
  const double mean = mean_of(values).value;
  if (values.size() < 2) return std::abs(mean);
  double squares = 0;
  for (const TracedValue& value : values) squares += std::pow(value.value - mean, 2);
  return std::sqrt(squares / (n - 1) * (1 - n / of) / n);
}

std::optional<Quantity> chain_mean(const CutterValues& values, int of) {
  if (values.values.empty()) return std::nullopt;
  Quantity mean = mean_of(values.values).quantity();
  const double u = sampling_u(values.values, of);
  if (u > 0) mean.budget.push_back({Source::kDefinition, u});
  return mean;
}

int cutters_of(const ChainInspection& inspection) {
  return std::max(inspection.expected_cutters.value_or(0), static_cast<int>(inspection.cutters.size()));
}

std::optional<double> chips_a_cutter(const ChainInspection& inspection) {
  int searched = 0;
  std::size_t chips = 0;
  for (const JoinedCutter& cutter : inspection.cutters) {
    if (!cutter.measured.chips_searched) continue;
    ++searched;
    chips += cutter.measured.chips.size();
  }
  return searched > 0 ? std::optional<double>(static_cast<double>(chips) / searched) : std::nullopt;
}

/// Work and filings up to a time, or between two.
struct WorkDone {
  double hours = 0;
  double tanks = 0;
  double area_m2 = 0;
  bool dirt = false;
  bool any = false;
  int filings = 0;
};

WorkDone work_between(const std::vector<ChainEvent>& events, const std::string& after, const std::string& until) {
  WorkDone done;
  for (const ChainEvent& event : events) {
    if (event.at <= after || event.at > until) continue;
    if (std::holds_alternative<FilingDone>(event.what)) ++done.filings;
    if (const auto* job = std::get_if<Job>(&event.what)) {
      done.hours += job->hours.value_or(0);
      done.tanks += job->tanks.value_or(0);
      done.area_m2 += job->area_m2.value_or(0);
      done.dirt = done.dirt || job->dirt || job->metal;
      done.any = true;
    }
  }
  return done;
}

/// A date alone means the whole day: events of the day an inspection bears came before it unless both tell the hour.
std::string end_of(const std::string& at) { return at.size() <= 10 ? at + "~" : at; }

HistoryPoint point_of(const ChainRecord& record, std::size_t index) {
  const RecordedInspection& recorded = record.inspections[index];
  const int day = static_cast<int>(index) + 1;
  const int of = cutters_of(recorded.inspection);
  const WorkDone work = work_between(record.events, "", end_of(recorded.at));
  HistoryPoint point;
  point.at = recorded.at;
  point.stage = recorded.stage;
  point.action = recorded.inspection.verdict.action;
  std::set<int> numbers;
  const auto mean = [&](const WatchedQuantity& quantity) {
    const CutterValues values = values_of(recorded, day, quantity);
    numbers.insert(values.numbers.begin(), values.numbers.end());
    return chain_mean(values, of);
  };
  point.length_mm = mean(kLengthOf);
  point.rounding_um = mean(kRoundingOf);
  point.drop_mm = mean(kDropOf);
  point.cutters = static_cast<int>(numbers.size());
  point.chips_a_cutter = chips_a_cutter(recorded.inspection);
  point.hours = work.hours;
  point.tanks = work.tanks;
  point.area_m2 = work.area_m2;
  return point;
}

/// Mean change of the cutters that both inspections know.
std::optional<Quantity> mean_change(const ChainRecord& record, std::size_t first, std::size_t second,
                                    const WatchedQuantity& quantity) {
  const CutterValues before = values_of(record.inspections[first], static_cast<int>(first) + 1, quantity);
  const CutterValues after = values_of(record.inspections[second], static_cast<int>(second) + 1, quantity);
  std::vector<TracedValue> changes;
  for (std::size_t i = 0; i < before.numbers.size(); ++i) {
    const auto at = std::find(after.numbers.begin(), after.numbers.end(), before.numbers[i]);
    if (at == after.numbers.end()) continue;
    changes.push_back(difference(after.values[static_cast<std::size_t>(at - after.numbers.begin())], before.values[i]));
  }
  if (changes.empty()) return std::nullopt;
  const ChainInspection& later = record.inspections[second].inspection;
  CutterValues paired{std::vector<int>(changes.size()), changes};
  return chain_mean(paired, cutters_of(later));
}

Quantity scaled(const Quantity& quantity, double factor) {
  Quantity result = quantity;
  result.value *= factor;
  for (BudgetLine& line : result.budget) line.u *= std::abs(factor);
  return result;
}

bool beyond_u95(const Quantity& quantity) { return std::abs(quantity.value) > kCoverage * quantity.u(); }

void add_rates(const ChainRecord& record, ChainHistory& history) {
  for (std::size_t i = 1; i < record.inspections.size(); ++i) {
    const std::string& from = record.inspections[i - 1].at;
    const std::string& to = record.inspections[i].at;
    const WorkDone work = work_between(record.events, end_of(from), end_of(to));
    if (work.filings > 0 || !work.any) continue;
    const std::optional<Quantity> growth = mean_change(record, i - 1, i, kRoundingOf);
    if (!growth) continue;
    const std::vector<std::pair<const char*, double>> amounts = {
        {"hour", work.hours}, {"tank", work.tanks}, {"m²", work.area_m2}};
    for (const auto& [per, amount] : amounts) {
      if (!(amount > 0)) continue;
      const Quantity rate = scaled(*growth, 1 / amount);
      history.rates.push_back({from, to, per, rate, work.dirt, beyond_u95(rate)});
    }
  }
}

void add_cost(const ChainRecord& record, ChainHistory& history) {
  double hours = 0;
  for (const ChainEvent& event : record.events) {
    if (const auto* purchase = std::get_if<Purchase>(&event.what)) {
      history.cost = history.cost.value_or(0) + purchase->price;
      if (history.currency.empty()) history.currency = purchase->currency;
    }
    if (const auto* filing = std::get_if<FilingDone>(&event.what)) {
      ++history.filings;
      if (filing->cost) history.cost = history.cost.value_or(0) + *filing->cost;
    }
    if (const auto* job = std::get_if<Job>(&event.what)) hours += job->hours.value_or(0);
  }
  if (history.cost && hours > 0) history.cost_per_hour = *history.cost / hours;
}

/// The stopwatch: a fifth of a second either way at start and stop (human reaction, common practice, no source).
constexpr double kStopwatch_s = 0.2;

Quantity speed_of(const TimedCut& cut) {
  Quantity speed = scaled(cut.section_cm2, 1 / cut.seconds);
  speed.budget.push_back({Source::kDefinition, speed.value * kStopwatch_s / cut.seconds});
  return speed;
}

/// The rounding that made a cut: the latest inspection before it, unless work or a file came between.
std::optional<Quantity> rounding_at(const ChainHistory& history, const std::vector<ChainEvent>& events,
                                    const std::string& at) {
  const HistoryPoint* latest = nullptr;
  for (const HistoryPoint& point : history.points) {
    if (point.at <= at || point.at.substr(0, 10) == at) latest = &point;
  }
  if (latest == nullptr || work_between(events, end_of(latest->at), at).filings > 0) return std::nullopt;
  return latest->rounding_um;
}

Quantity ratio(const Quantity& a, const Quantity& b) {
  const double value = a.value / b.value;
  const double u = std::abs(value) * std::hypot(a.u() / a.value, b.u() / b.value);
  return {value, {{Source::kDefinition, u}}};
}

void add_speeds(const ChainRecord& record, ChainHistory& history) {
  for (const ChainEvent& event : record.events) {
    const auto* cut = std::get_if<TimedCut>(&event.what);
    if (cut == nullptr || !(cut->seconds > 0) || !(cut->section_cm2.value > 0)) continue;
    CuttingSpeed speed{event.at, cut->wood, speed_of(*cut), rounding_at(history, record.events, event.at), {}};
    for (const CuttingSpeed& earlier : history.speeds) {
      if (earlier.wood != speed.wood) continue;
      speed.share_of_new = ratio(speed.cm2_per_s, earlier.cm2_per_s);
      break;
    }
    history.speeds.push_back(speed);
  }
}

/// "2026-11-02 14:30"
std::string spoken(std::string at) {
  std::replace(at.begin(), at.end(), 'T', ' ');
  return at;
}

std::string rate_statement(const WearRate& rate) {
  const std::string when =
      " from " + spoken(rate.from) + " to " + spoken(rate.to) + (rate.dirt ? " (dirt or metal touched)" : "");
  const std::string figure =
      fixed(rate.rounding_um.value, 1) + " +- " + fixed(kCoverage * rate.rounding_um.u(), 1) + " um per " + rate.per;
  return rate.real ? "rounding changed by " + figure + when : "no real change of the rounding" + when + ": " + figure;
}

void add_dirt_statement(ChainHistory& history) {
  for (const std::string per : {"hour", "tank", "m²"}) {
    const auto find = [&](bool dirt) {
      return std::find_if(history.rates.begin(), history.rates.end(),
                          [&](const WearRate& rate) { return rate.per == per && rate.dirt == dirt; });
    };
    const auto clean = find(false);
    const auto dirty = find(true);
    if (clean == history.rates.end() || dirty == history.rates.end()) continue;
    const double difference = dirty->rounding_um.value - clean->rounding_um.value;
    const double u95 = kCoverage * std::hypot(dirty->rounding_um.u(), clean->rounding_um.u());
    history.statements.push_back("dirty work less clean work: " + fixed(difference, 1) + " +- " + fixed(u95, 1) +
                                 " um per " + per +
                                 (std::abs(difference) > u95 ? ": a real difference" : ": no real difference"));
    return;
  }
}

void add_filing_statements(const ChainRecord& record, ChainHistory& history) {
  for (std::size_t i = 1; i < record.inspections.size(); ++i) {
    const std::string& from = record.inspections[i - 1].at;
    const std::string& to = record.inspections[i].at;
    const int filings = work_between(record.events, end_of(from), end_of(to)).filings;
    if (filings == 0) continue;
    const std::optional<Quantity> change = mean_change(record, i - 1, i, kLengthOf);
    if (!change) continue;
    const Quantity each = scaled(*change, -1.0 / filings);
    history.statements.push_back("a filing took " + mm_text(each) + " of length (" + spoken(from) + " to " +
                                 spoken(to) + ")" + (beyond_u95(each) ? "" : ": no real change"));
  }
}

void add_speed_statements(ChainHistory& history) {
  for (const CuttingSpeed& speed : history.speeds) {
    std::string text = "cut " + fixed(speed.cm2_per_s.value, 1) + " +- " + fixed(kCoverage * speed.cm2_per_s.u(), 1) +
                       " cm²/s on " + spoken(speed.at);
    if (!speed.wood.empty()) text += " in " + speed.wood;
    if (speed.rounding_um) text += ", rounding " + um_text(*speed.rounding_um);
    if (speed.share_of_new) {
      text += ": " + fixed(100 * speed.share_of_new->value, 0) + " +- " +
              fixed(100 * kCoverage * speed.share_of_new->u(), 0) + " % of the first cut's";
    }
    history.statements.push_back(text);
  }
}

void add_statements(const ChainRecord& record, ChainHistory& history) {
  for (const WearRate& rate : history.rates) history.statements.push_back(rate_statement(rate));
  add_dirt_statement(history);
  add_filing_statements(record, history);
  add_speed_statements(history);
  if (history.sharpenings_left) {
    const CountBand& left = *history.sharpenings_left;
    history.statements.push_back("about " + fixed(left.likely, 0) + " sharpenings left (" + fixed(left.least, 0) +
                                 " to " + fixed(left.most, 0) + ")");
  }
  if (history.cost_per_hour) {
    history.statements.push_back("cost so far " + fixed(*history.cost_per_hour, 2) +
                                 (history.currency.empty() ? "" : " " + history.currency) + " an hour");
  }
  if (history.rates.empty() && record.inspections.size() > 1) {
    history.statements.push_back(
        "no wear by the hour, tank or m² can be told: record the jobs between two inspections");
  }
}

/// The last inspection of each stage that has a name.
std::vector<std::pair<std::string, std::size_t>> stages_of(const ChainRecord& record) {
  std::vector<std::pair<std::string, std::size_t>> stages;
  for (std::size_t i = 0; i < record.inspections.size(); ++i) {
    const std::string& stage = record.inspections[i].stage;
    if (stage.empty()) continue;
    std::erase_if(stages, [&](const auto& known) { return known.first == stage; });
    stages.emplace_back(stage, i);
  }
  return stages;
}

struct ComparedValue {
  const char* name;
  const char* unit;
  int decimals;
  std::optional<Quantity> HistoryPoint::*mean;
};
constexpr ComparedValue kCompared[] = {{"rounding", "um", 0, &HistoryPoint::rounding_um},
                                       {"gauge drop", "mm", 2, &HistoryPoint::drop_mm},
                                       {"length", "mm", 2, &HistoryPoint::length_mm}};

StageDifference difference_between(const std::string& stage, const ComparedValue& value,
                                   const std::pair<std::string, Quantity>& first,
                                   const std::pair<std::string, Quantity>& second) {
  StageDifference result{stage, value.name, first.first, second.first, {}, false, ""};
  result.difference.value = second.second.value - first.second.value;
  result.difference.budget = {{Source::kDefinition, std::hypot(first.second.u(), second.second.u())}};
  result.real = beyond_u95(result.difference);
  const std::string figure = fixed(std::abs(result.difference.value), value.decimals) + " +- " +
                             fixed(kCoverage * result.difference.u(), value.decimals) + " " + value.unit;
  const char* more = result.difference.value > 0 ? " more " : " less ";
  result.text =
      result.real ? second.first + " has " + figure + more + value.name + " than " + first.first + ": a real difference"
                  : std::string("no real difference of ") + value.name + " between " + first.first + " and " +
                        second.first + ": " + figure;
  return result;
}

void compare_stage(const ChainRecord& a, std::size_t at_a, const ChainRecord& b, std::size_t at_b,
                   std::vector<StageDifference>& differences) {
  const HistoryPoint first = point_of(a, at_a);
  const HistoryPoint second = point_of(b, at_b);
  for (const ComparedValue& value : kCompared) {
    const std::optional<Quantity>& mean_a = first.*value.mean;
    const std::optional<Quantity>& mean_b = second.*value.mean;
    if (!mean_a || !mean_b) continue;
    differences.push_back(
        difference_between(first.stage, value, std::pair(a.chain, *mean_a), std::pair(b.chain, *mean_b)));
  }
}

}  // namespace

ChainHistory life_of(const ChainRecord& record) {
  ChainHistory history;
  history.chain = record.chain;
  history.events = record.events;
  for (std::size_t i = 0; i < record.inspections.size(); ++i) {
    history.points.push_back(point_of(record, i));
    const std::optional<CountBand>& left = record.inspections[i].inspection.plan.sharpenings_left;
    if (left) history.sharpenings_left = left;
  }
  add_rates(record, history);
  add_cost(record, history);
  add_speeds(record, history);
  add_statements(record, history);
  return history;
}

std::vector<StageDifference> stage_differences(const std::vector<ChainRecord>& records) {
  std::vector<StageDifference> differences;
  for (std::size_t i = 0; i < records.size(); ++i) {
    for (std::size_t j = i + 1; j < records.size(); ++j) {
      for (const auto& [stage, at] : stages_of(records[i])) {
        for (const auto& [other_stage, other_at] : stages_of(records[j])) {
          if (stage == other_stage) compare_stage(records[i], at, records[j], other_at, differences);
        }
      }
    }
  }
  return differences;
}

}  // namespace glintline
