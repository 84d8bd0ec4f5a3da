#include "judge/stroke_stock.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <set>

#include "base/text.h"
#include "judge/wording.h"
#include "math/random_effects.h"

namespace glintline {

namespace {

constexpr double kAssumedMm = 0.05;
constexpr double kLeastBetween = 0.2;
constexpr std::size_t kFewCutters = 4;

}  // namespace

StrokeStock assumed_stock() {
  // Twice u in the logarithm is a factor of two.
  const double u = kAssumedMm * std::numbers::ln2 / kCoverage;
  return {{kAssumedMm, {{Source::kDefinition, u}}}, "assumed, from half to twice that"};
}

StrokeStock learned_stock(const std::vector<StrokeCount>& counts) {
  std::vector<double> a_stroke;
  std::vector<double> u;
  std::set<std::string> chains;
  for (const StrokeCount& c : counts) {
    const double value = c.bevel_mm / c.strokes;
    if (!(c.strokes > 0) || !std::isfinite(value) || !(c.u_mm > 0)) continue;
    a_stroke.push_back(value);
    u.push_back(c.u_mm / c.strokes);
    chains.insert(c.chain);
  }
  if (a_stroke.empty()) return assumed_stock();
  const RandomEffects pooled = random_effects(a_stroke, u);
  // So bad a measurement that it says nothing, or says that the file adds metal.
  if (!(pooled.mean > kCoverage * pooled.u_mean)) {
    StrokeStock stock = assumed_stock();
    stock.source += "; what was counted does not tell it more closely";
    return stock;
  }
  const double least = a_stroke.size() < kFewCutters ? kLeastBetween * pooled.mean : 0;
  StrokeStock stock;
  stock.mm = {pooled.mean, {{Source::kEdge, pooled.u_mean}, {Source::kDefinition, std::max(least, pooled.between)}}};
  stock.source = "learned from " + counted(static_cast<int>(a_stroke.size()), "cutter");
  if (chains.size() > 1) stock.source += " of " + counted(static_cast<int>(chains.size()), "chain");
  return stock;
}

CountBand strokes_for(const Quantity& bevel_mm, const StrokeStock& stock) {
  const double t = std::max(0.0, bevel_mm.value);
  const double s = stock.mm.value;
  const double spread = std::exp(kCoverage * stock.mm.u() / s);
  const double length = kCoverage * bevel_mm.u() / s;
  CountBand band;
  band.likely = t / s;
  band.least = std::max(0.0, band.likely - std::hypot(length, band.likely * (1 - 1 / spread)));
  band.most = band.likely + std::hypot(length, band.likely * (spread - 1));
  return band;
}

}  // namespace glintline
