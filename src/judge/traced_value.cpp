#include "judge/traced_value.h"

#include <cassert>
#include <cmath>

namespace glintline {

namespace {

/// Faces and cards in ErrorKey::what must not meet the numbers of quantities.
constexpr int kFaces = 1000;
constexpr int kCards = 2000;

ErrorKey key_of(Source source, const ErrorOrigin& o) {
  switch (source) {
    case Source::kPose:
    case Source::kFocal:
    case Source::kFlatness:
      return {source, o.photo};
    case Source::kPrint:
      return {source, ErrorKey::kAny, ErrorKey::kAny, kCards + 2 * o.print + static_cast<int>(o.card)};
    case Source::kStandOff:
    case Source::kThickness: {
      const int face = o.hand ? static_cast<int>(*o.hand) : 2;
      return {source, ErrorKey::kAny, ErrorKey::kAny, kFaces + 6 * o.print + 3 * static_cast<int>(o.view) + face};
    }
    case Source::kEdge:
    case Source::kDefinition:
      break;
  }
  return {source, o.photo, o.cutter, o.what};
}

}  // namespace

void TracedValue::add(double factor, const TracedValue& other) {
  value += factor * other.value;
  for (const auto& [key, u] : other.errors) errors[key] += factor * u;
}

double TracedValue::u() const {
  double sum = 0;
  for (const auto& [key, u] : errors) sum += u * u;
  return std::sqrt(sum);
}

Quantity TracedValue::quantity() const {
  std::map<Source, double> squares;
  for (const auto& [key, u] : errors) squares[key.source] += u * u;
  Quantity quantity{value, {}};
  for (const auto& [source, square] : squares) quantity.budget.push_back({source, std::sqrt(square)});
  return quantity;
}

TracedValue difference(const TracedValue& a, const TracedValue& b) {
  TracedValue result = a;
  result.add(-1, b);
  return result;
}

TracedValue traced(const Quantity& quantity, const ErrorOrigin& origin) {
  TracedValue result{quantity.value, {}};
  for (const BudgetLine& line : quantity.budget) {
    // Two lines of one source are independent of one another, so they meet in squares.
    double& u = result.errors[key_of(line.source, origin)];
    u = std::hypot(u, line.u);
  }
  return result;
}

TracedValue traced_mean(const std::vector<TracedValue>& values) {
  assert(!values.empty());
  constexpr double kLeastU = 1e-9;  // a value without any uncertainty would have endless weight
  double sum = 0;
  for (const TracedValue& v : values) sum += 1 / std::pow(std::max(v.u(), kLeastU), 2);
  TracedValue mean;
  for (const TracedValue& v : values) mean.add(1 / std::pow(std::max(v.u(), kLeastU), 2) / sum, v);
  return mean;
}

}  // namespace glintline
