#include "judge/sighted_values.h"

#include <algorithm>
#include <cmath>

#include "judge/wording.h"

namespace glintline {

namespace {

constexpr std::size_t kPhotosADay = 1000000;

ErrorOrigin origin_of(const ChainPhotos& chain, const CutterSighting& at, CutterValue what) {
  const Inspection& photo = chain.photos[at.photo];
  ErrorOrigin origin;
  origin.photo = at.photo + static_cast<std::size_t>(chain.day) * kPhotosADay;
  origin.cutter = at.cutter;
  origin.what = static_cast<int>(what);
  if (photo.card) origin.card = photo.card->kind;
  origin.view = photo.view;
  origin.hand = photo.cutters[at.cutter].measured.hand;
  origin.print = chain.print;
  return origin;
}

struct Seen {
  TracedValue value;
  std::size_t photo = 0;
};

bool is_angle(CutterValue what) {
  return what == CutterValue::kEdgeAngle || what == CutterValue::kTopSlope || what == CutterValue::kHook;
}

bool is_radius(CutterValue what) {
  return what == CutterValue::kRadius || what == CutterValue::kRadiusP90 || what == CutterValue::kCornerRounding;
}

std::string text_of(const Quantity& value, CutterValue what) {
  return is_angle(what) ? degrees_text(value) : is_radius(what) ? um_text(value) : mm_text(value);
}

const char* name_of(CutterValue what) {
  switch (what) {
    case CutterValue::kDrop:
      return "gauge drop";
    case CutterValue::kEdgeAngle:
      return "edge angle";
    case CutterValue::kTopSlope:
      return "top slope";
    case CutterValue::kHook:
      return "hook angle";
    case CutterValue::kRadius:
    case CutterValue::kRadiusP90:
      return "edge radius";
    case CutterValue::kCornerRounding:
      return "corner rounding";
    case CutterValue::kLength:
    case CutterValue::kNeed:
      break;
  }
  return "length";
}

std::string file_name(const std::string& path) { return path.substr(path.find_last_of('/') + 1); }

JoinedValue joined(const ChainPhotos& chain, const std::vector<Seen>& seen, CutterValue what, const ErrorKey& own) {
  const auto by_value = [](const Seen& a, const Seen& b) { return a.value.value < b.value.value; };
  const Seen& least = *std::min_element(seen.begin(), seen.end(), by_value);
  const Seen& most = *std::max_element(seen.begin(), seen.end(), by_value);
  const TracedValue apart = difference(most.value, least.value);
  if (!(apart.value > kCoverage * apart.u()) || seen.size() < 2) {
    std::vector<TracedValue> values;
    for (const Seen& s : seen) values.push_back(s.value);
    return {traced_mean(values), ""};
  }
  JoinedValue result;
  result.value.add(0.5, least.value);
  result.value.add(0.5, most.value);
  result.value.errors[own] = apart.value / kCoverage;
  result.contradiction = std::string(name_of(what)) + ": " + text_of(least.value.quantity(), what) + " in " +
                         file_name(chain.photos[least.photo].photo_path) + ", " + text_of(most.value.quantity(), what) +
                         " in " + file_name(chain.photos[most.photo].photo_path) +
                         ": both cannot be right; see that both show this cutter";
  return result;
}

bool finite(const Quantity& q) { return std::isfinite(q.value) && std::isfinite(q.u()); }

/// What the corner has lost in one plan photograph: whole length less length, which share all but the corner. They
/// carry the length's errors: added to it they make the whole length, whose rear end and edge line alone are uncertain.
std::optional<TracedValue> corner_wear(const ChainPhotos& chain, const CutterSighting& at) {
  const CutterMeasurement& m = measurement_at(chain, at);
  if (!m.whole_length_mm || !m.length_mm || !finite(*m.whole_length_mm) || !finite(*m.length_mm)) return std::nullopt;
  const TracedValue whole = traced(*m.whole_length_mm, origin_of(chain, at, CutterValue::kLength));
  const TracedValue length = traced(*m.length_mm, origin_of(chain, at, CutterValue::kLength));
  TracedValue wear = difference(whole, length);
  wear.value = std::max(0.0, wear.value);
  return wear;
}

}  // namespace

const CutterMeasurement& measurement_at(const ChainPhotos& chain, const CutterSighting& sighting) {
  return chain.photos[sighting.photo].cutters[sighting.cutter].measured;
}

std::optional<JoinedValue> joined_value(const ChainPhotos& chain, const JoinedCutter& cutter, QuantityOf quantity,
                                        CutterValue what) {
  std::vector<Seen> seen;
  for (const CutterSighting& at : cutter.sightings) {
    const std::optional<Quantity>& value = measurement_at(chain, at).*quantity;
    if (value && finite(*value)) seen.push_back({traced(*value, origin_of(chain, at, what)), at.photo});
  }
  if (seen.empty()) return std::nullopt;
  const ErrorOrigin first = origin_of(chain, cutter.sightings.front(), what);
  // One key a cutter and quantity, apart from what any single photograph carries.
  const ErrorKey own{Source::kDefinition, first.photo, first.cutter, 100 + first.what};
  return joined(chain, seen, what, own);
}

std::optional<TracedValue> base_length(const ChainPhotos& chain, const JoinedCutter& cutter) {
  const auto length = joined_value(chain, cutter, &CutterMeasurement::length_mm, CutterValue::kLength);
  if (!length) return std::nullopt;
  std::vector<TracedValue> wears;
  for (const CutterSighting& at : cutter.sightings) {
    if (const auto wear = corner_wear(chain, at)) wears.push_back(*wear);
  }
  TracedValue base = length->value;
  if (!wears.empty()) base.add(1, traced_mean(wears));
  return base;
}

}  // namespace glintline
