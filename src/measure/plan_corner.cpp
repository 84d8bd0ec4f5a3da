#include "measure/plan_corner.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "math/statistics.h"

namespace glintline {

namespace {

constexpr double kBinMm = 0.1;
/// Medians no farther apart than this follow each other.
constexpr double kNoGapMm = 1.5 * kBinMm;
/// The bend of a rounded corner begins within this way of the side: radius 1 to 2 mm (TRADE.md), and room before it.
constexpr double kReachMm = 2.5;
/// A tangent is taken over so much of the hull.
constexpr double kChordMm = 0.25;
/// An outline wanders by half a pixel and a few hundredths of a millimetre.
constexpr double kLeastAheadMm = 0.03;
constexpr double kLeastAheadPx = 2;
/// Outline that comes back to the edge's line so far is the edge.
constexpr double kJoinedMm = 0.06;
/// What falls back more steeply than this is a chip's wall.
constexpr double kSteepest = 0.7;

/// Medians of every bin that holds enough places, from inside to the side.
std::vector<CornerPlace> binned(const std::vector<CornerPlace>& outline) {
  std::vector<std::vector<CornerPlace>> bins(static_cast<std::size_t>(kReachMm / kBinMm));
  for (const CornerPlace& p : outline) {
    if (p.in_mm >= 0 && p.in_mm < kReachMm - 1e-9) bins[static_cast<std::size_t>(p.in_mm / kBinMm)].push_back(p);
  }
  const auto middle = [](const std::vector<CornerPlace>& bin, double CornerPlace::*value) {
    std::vector<double> values;
    for (const CornerPlace& p : bin) values.push_back(p.*value);
    return median(values);
  };
  std::vector<CornerPlace> out;
  for (auto bin = bins.rbegin(); bin != bins.rend(); ++bin) {
    if (bin->size() < 2) continue;
    out.push_back({middle(*bin, &CornerPlace::in_mm), middle(*bin, &CornerPlace::ahead_mm),
                   middle(*bin, &CornerPlace::behind_mm), middle(*bin, &CornerPlace::alike_mm)});
  }
  return out;
}

/// Ahead per way towards the side.
double slope(const CornerPlace& from, const CornerPlace& to) {
  return (to.ahead_mm - from.ahead_mm) / std::max(1e-6, from.in_mm - to.in_mm);
}

/// Upper convex hull of places that come from inside to the side.
class Hull {
 public:
  void add(const CornerPlace& p) {
    while (places_.size() > 1 && slope(places_[places_.size() - 2], places_.back()) <= slope(places_.back(), p))
      places_.pop_back();
    places_.push_back(p);
  }
  [[nodiscard]] const CornerPlace& last() const { return places_.back(); }
  /// Slope of its last kChordMm; nothing while it is shorter.
  [[nodiscard]] std::optional<double> tangent() const {
    for (std::size_t k = places_.size(); k-- > 0;) {
      if (places_[k].in_mm - last().in_mm >= kChordMm) return slope(places_[k], last());
    }
    return std::nullopt;
  }

 private:
  std::vector<CornerPlace> places_;
};

using Bins = std::vector<CornerPlace>;

/// Way between outline and the end of the plate's light that a share of the bins stays under.
double strip_of(Bins::const_iterator first, Bins::const_iterator last, double share) {
  std::vector<double> values;
  for (auto p = first; p != last; ++p) values.push_back(p->alike_mm);
  return percentile(values, share);
}

/// True where the outline comes back to the edge's line and is the plate's there: the plate's light ends beside it, a
/// rounding's width behind. Where the line runs on over lower metal, the bend falls back from it ever further.
bool joins_line(Bins::const_iterator from, Bins::const_iterator to) {
  constexpr double kFallsBack = 0.15;  // half of what a bend does that turns along the chain
  Bins joined;
  std::copy_if(from, to, std::back_inserter(joined), [](const CornerPlace& p) { return p.behind_mm < kJoinedMm; });
  if (joined.size() < 3) return !joined.empty();
  const auto half = static_cast<std::ptrdiff_t>(joined.size() / 2);
  const double inner = strip_of(joined.begin(), joined.begin() + half, 0.5);
  const double outer = strip_of(joined.end() - half, joined.end(), 0.5);
  const double way = (joined.front().in_mm - joined.back().in_mm) / 2;
  return outer - inner < kFallsBack * way + kLeastAheadMm;
}

/// By how much the ends of the plate's light bend, bin by bin, going on from the outline before them.
std::vector<double> bends_of_light(const CornerPlace& before, Bins::const_iterator from, Bins::const_iterator to) {
  std::vector<double> own{before.ahead_mm};
  for (auto p = from; p != to; ++p) own.push_back(p->ahead_mm - p->alike_mm);
  std::vector<double> bends;
  for (std::size_t k = 1; k + 1 < own.size(); ++k) bends.push_back(std::abs(own[k + 1] - 2 * own[k] + own[k - 1]));
  return bends;
}

/// True where the ends of the plate's light go on from the outline before them without a jump, as a bend does and
/// stains do not.
bool goes_on(const CornerPlace& before, Bins::const_iterator from, Bins::const_iterator to, double tolerance_mm) {
  const double way = before.in_mm - from->in_mm;
  if (std::abs(from->ahead_mm - from->alike_mm - before.ahead_mm) > 2 * tolerance_mm + way) return false;
  std::vector<double> bends = bends_of_light(before, from, to);
  if (bends.empty()) return true;
  // On the edge's very line up to the side, one jump will do: lower metal's outline has no reason to lie there.
  constexpr double kOnLineMm = 0.02;
  std::vector<double> off;
  for (auto p = from; p != to; ++p) off.push_back(std::abs(p->behind_mm));
  const double most = *std::max_element(bends.begin(), bends.end());
  if (most > 3 * tolerance_mm && median(std::move(off)) < kOnLineMm) return false;
  // The bend itself ends somewhere before the side, and with it the light that goes on.
  constexpr std::size_t kLeastBends = 3;
  bends.resize(std::max(std::min(kLeastBends, bends.size()), bends.size() / 2));
  return median(std::move(bends)) < 2 * tolerance_mm;
}

/// The end before a bin that turns ahead; nothing where that is the plate's all the same.
std::optional<OutlineEnd> end_before(const Bins& bins, std::size_t k, double tangent, double tolerance_mm) {
  constexpr double kUnstained = 0.25;  // stains end the plate's light early in some bins
  constexpr double kSliverMm = 0.3;
  constexpr double kSliverRise = 0.5;  // steeper than the edge itself runs ahead (30 degrees: 0.58)
  const auto at = bins.begin() + static_cast<std::ptrdiff_t>(k);
  const double strip = strip_of(bins.begin(), at, kUnstained);
  OutlineEnd end;
  end.in_mm = bins[k - 1].in_mm;
  end.strip_mm = strip;
  end.ahead_mm = bins[k - 1].ahead_mm;
  end.rise = std::max(0.0, tangent);
  if (strip_of(at, bins.end(), 0.5) < strip + tolerance_mm) {
    const double step = at->ahead_mm - bins[k - 1].ahead_mm;
    const double way = bins[k - 1].in_mm - at->in_mm;
    // Behind a gap a scrap of outline is no sliver: what it says of the bend, if anything, lost_bend weighs.
    const bool sliver = at->in_mm < kSliverMm && step > kSliverRise * way && way < kNoGapMm;
    if (!sliver) return std::nullopt;
    end.doubtful = true;
    return end;
  }
  if (joins_line(at, bins.end()) || !goes_on(bins[k - 1], at, bins.end(), tolerance_mm)) return std::nullopt;
  return end;
}

/// True where a chip's wall falls back shortly before bin k: what then lies ahead is the chip's other side.
bool after_wall(const Bins& bins, std::size_t k) {
  constexpr double kChipMm = 1;
  for (std::size_t m = k; m-- > 1;) {
    if (bins[m].in_mm - bins[k].in_mm > kChipMm) break;
    if (slope(bins[m - 1], bins[m]) < -kSteepest) return true;
  }
  return false;
}

/// True where the bins from k on lie ahead of the hull's tangent: at once, or little by little within a tangent's
/// length. `u_tangent` is how well that is known.
bool turns_ahead(const Bins& bins, std::size_t k, const Hull& hull, double tolerance_mm, double u_tangent) {
  constexpr std::size_t kAtOnce = 2;
  constexpr std::size_t kLook = 4;
  const auto tangent = k > 0 ? hull.tangent() : std::nullopt;
  if (!tangent || *tangent < -kSteepest || after_wall(bins, k)) return false;
  const auto ahead = [&](std::size_t m, double tolerance) {
    const double way = hull.last().in_mm - bins[m].in_mm;
    return bins[m].ahead_mm - hull.last().ahead_mm - *tangent * way > tolerance + u_tangent * way;
  };
  const std::size_t look = ahead(k, 0) ? kLook : kAtOnce;
  for (std::size_t m = k; m < std::min(bins.size(), k + look); ++m) {
    if (ahead(m, tolerance_mm)) return true;
  }
  return false;
}

/// True where from bin k on the plate's light ends ever farther behind the outline: then a slight turn ahead will do.
bool light_ends_early(const Bins& bins, std::size_t k, double tolerance_mm) {
  constexpr std::size_t kLeastBins = 3;
  if (k == 0 || bins.size() < k + kLeastBins) return false;
  const auto at = bins.begin() + static_cast<std::ptrdiff_t>(k);
  const auto falls = [](const CornerPlace& a, const CornerPlace& b) { return b.alike_mm < a.alike_mm; };
  return std::adjacent_find(at, bins.end(), falls) == bins.end() &&
         bins.back().alike_mm > strip_of(bins.begin(), at, 0.5) + 3 * tolerance_mm;
}

double tolerance_at(double mm_per_px) { return std::max(kLeastAheadMm, kLeastAheadPx * mm_per_px); }

/// First of the bins up to the last one along which the outline moves away from the edge's line without a gap or a
/// chip's wall.
std::size_t bend_begin(const Bins& bins, std::size_t last) {
  constexpr double kWanderMm = 0.005;
  std::size_t k = last;
  const auto bends = [&](const CornerPlace& from, const CornerPlace& to) {
    const double off = to.behind_mm - from.behind_mm;
    const double way = from.in_mm - to.in_mm;
    return way < kNoGapMm && off > -kWanderMm && off < kSteepest * way;
  };
  while (k > 0 && bins[k].behind_mm > kWanderMm && bends(bins[k - 1], bins[k])) --k;
  return k;
}

/// Beyond the bin that ends a bend, towards the side.
struct Beyond {
  double gap_mm = 0;   ///< without an outline
  bool ahead = false;  ///< the next bin lies nearer to the edge's line, or past it
  bool edge = false;   ///< seen throughout, on the line: the edge beyond a chip
  bool dark = false;   ///< the plate's light ends well behind the outline
};

Beyond beyond_of(const Bins& bins, std::size_t last, double tolerance_mm) {
  constexpr double kSeenShare = 0.8;
  const auto from = bins.begin() + static_cast<std::ptrdiff_t>(last + 1);
  Beyond out;
  if (from == bins.end()) return {bins[last].in_mm};
  out.gap_mm = bins[last].in_mm - from->in_mm;
  out.ahead = from->behind_mm < bins[last].behind_mm - tolerance_mm;
  const auto on_line =
      std::count_if(from, bins.end(), [&](const CornerPlace& p) { return std::abs(p.behind_mm) < tolerance_mm; });
  out.edge = static_cast<double>(on_line) * kBinMm > kSeenShare * bins[last].in_mm - kBinMm;
  out.dark = strip_of(from, bins.end(), 0.5) > strip_of(bins.begin(), from, 0.5) + tolerance_mm;
  return out;
}

}  // namespace

std::optional<OutlineEnd> lost_bend(const std::vector<CornerPlace>& outline, double mm_per_px) {
  constexpr double kLeastBendMm = 0.25;
  constexpr double kLeastLeftMm = 0.05;  // an uneven edge wanders by as much as a bend leaves it at its beginning
  constexpr double kLeastLostMm = 0.25;
  constexpr double kMostRadiusMm = 2;  // TRADE.md
  const Bins bins = binned(outline);
  const double tolerance = tolerance_at(mm_per_px);
  for (std::size_t k = 0; k < bins.size(); ++k) {
    if (bins[k].behind_mm < std::max(tolerance, kLeastLeftMm) || bins[k].in_mm < kLeastLostMm) continue;
    const std::size_t begin = bend_begin(bins, k);
    if (bins[begin].behind_mm > tolerance || bins[begin].in_mm - bins[k].in_mm < kLeastBendMm) continue;
    if (bins[begin].in_mm > kMostRadiusMm) continue;
    const Beyond beyond = beyond_of(bins, k, tolerance);
    const bool none = k + 1 == bins.size();
    const bool scraps = beyond.ahead && !beyond.edge;
    if (!none && !scraps && !(beyond.gap_mm > kLeastLostMm && beyond.dark)) continue;
    Hull hull;
    for (std::size_t m = begin; m <= k; ++m) hull.add(bins[m]);
    OutlineEnd end;
    end.in_mm = bins[k].in_mm;
    end.ahead_mm = bins[k].ahead_mm;
    end.lost = true;
    end.bend_mm = bins[begin].in_mm;
    end.rise = std::max(0.0, hull.tangent().value_or(slope(bins[begin], bins[k])));
    return end;
  }
  return std::nullopt;
}

std::optional<OutlineEnd> outline_end(const std::vector<CornerPlace>& outline, double mm_per_px) {
  const Bins bins = binned(outline);
  const double tolerance = tolerance_at(mm_per_px);
  Hull hull;
  for (std::size_t k = 0; k < bins.size(); ++k) {
    const double share = light_ends_early(bins, k, tolerance) ? 0.5 : 1;
    if (turns_ahead(bins, k, hull, share * tolerance, share * kUTangent)) {
      if (const auto end = end_before(bins, k, *hull.tangent(), tolerance)) return end;
    }
    hull.add(bins[k]);
  }
  return std::nullopt;
}

}  // namespace glintline
