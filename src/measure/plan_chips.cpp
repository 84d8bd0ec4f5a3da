#include "measure/plan_chips.h"

#include <algorithm>
#include <cmath>

#include "math/geometry.h"
#include "math/rectangular.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// From this depth a stretch is followed, and from this depth it is reported: what counts begins at 0.1 mm, and a
/// chip of 0.1 mm may be measured a little shallower.
constexpr double kFollowMm = 0.035;
constexpr double kReportMm = 0.08;
/// Both also in pixels: an outline wanders by about half a pixel.
constexpr double kFollowPx = 2;
constexpr double kReportPx = 3;
/// Steel breaks out in flakes, wider than deep (by experience); deeper and narrow is a scratch or a stain, unless what
/// lies below the edge shows through it.
constexpr double kLeastWidths = 0.8;
constexpr double kLeastOpenWidths = 0.5;
constexpr double kLeastOpenMm = 0.13;
/// Undamaged outline to either side that tells where the edge stood.
constexpr double kNeighbourMm = 0.5;
/// Nearer to the corner than this, what is missing without a neighbour before it is a worn corner.
constexpr double kCornerMm = 0.7;
/// Where the outline is seen on one side of a gap only, it may have jumped from one edge of a dull edge's strip to the
/// other; no strip of a rounding under 0.1 mm is wider.
constexpr double kWidestStripMm = 0.14;
/// A wall is steep from this slope on; a dull spot retreats by at most some 0.1 mm over 1 mm. What is as flat as that
/// has walls much steeper, if it is chips beside each other: the outline's own wandering makes lesser ones.
constexpr double kSteep = 0.3;
constexpr double kDullSpot = 0.12;  ///< depth over width
constexpr double kSteepInDullSpot = 0.8;
constexpr double kWallMm = 0.08;
/// Rows of which the middle one must lie this share of the least depth behind: one or two are scraps of the path.
constexpr std::size_t kRowsTogether = 5;
constexpr double kTogetherShare = 0.6;

struct Stretch {
  std::size_t first = 0;
  std::size_t last = 0;  ///< inclusive
  bool apart = true;     ///< undamaged outline is seen between the stretch before and this one
};

/// Level of the outline around `s`: rounding differs along an edge, so neighbours are taken within 1.5 mm, and the
/// less receded ones are the undamaged ones.
double level_near(const std::vector<Recession>& outline, double s) {
  std::vector<double> values;
  for (const Recession& r : outline) {
    if (r.seen && std::abs(r.row_mm - s) < 1.5) values.push_back(r.behind_mm);
  }
  return values.empty() ? 0 : std::max(-kMostAheadMm, percentile(values, 0.3));
}

/// A ragged gap's outline doubles back, and a row that meets it twice is not seen: that far it does not end the gap.
constexpr double kUnseenMm = 0.15;

double width_of(const std::vector<Recession>& outline, const Stretch& stretch) {
  return outline[stretch.last].row_mm - outline[stretch.first].row_mm;
}

/// Stretches between which nothing undamaged is seen are one, unless what is not seen is wider than both: one gap in
/// which lower metal shows is likelier than two beside each other.
std::vector<Stretch> joined(const std::vector<Recession>& outline, const std::vector<Stretch>& stretches) {
  std::vector<Stretch> out;
  for (const Stretch& next : stretches) {
    const double way = out.empty() ? 0 : outline[next.first].row_mm - outline[out.back().last].row_mm;
    if (out.empty() || next.apart || way > std::max(width_of(outline, out.back()), width_of(outline, next))) {
      out.push_back(next);
    } else {
      out.back().last = next.last;
    }
  }
  return out;
}

/// Stretches that stand back by `threshold`. Where the line of light is broken and the outline not seen, something is
/// missing, too, however deep; outline that is seen there on the line may be of something below.
std::vector<Stretch> receded(const std::vector<Recession>& outline, double threshold) {
  std::vector<Stretch> out;
  bool whole = false;  // undamaged outline since the last stretch
  for (std::size_t k = 0; k < outline.size(); ++k) {
    const Recession& r = outline[k];
    if (!r.seen && !r.broken) continue;
    if (r.seen && r.behind_mm - level_near(outline, r.row_mm) < threshold) {
      whole = whole || !r.broken;
      continue;
    }
    const double way = out.empty() ? 0 : r.row_mm - outline[out.back().last].row_mm;
    if (out.empty() || way >= (whole ? 0.05 : kUnseenMm)) out.push_back({k, k, whole});
    out.back().last = k;
    whole = false;
  }
  return joined(outline, out);
}

/// Gives up places that lie behind undamaged edge beyond a gap's end by more than steel breaks out under its own edge:
/// they belong to marks on the plate. What reaches beyond `to_mm` is no gap of the edge's.
void drop_undercut(std::vector<Recession>& outline, const std::vector<Stretch>& gaps, double to_mm) {
  constexpr double kMostMm = 0.08;
  for (const Stretch& gap : gaps) {
    if (outline[gap.last].row_mm > to_mm || gap.last + 1 >= outline.size() || !outline[gap.last + 1].seen) continue;
    const double end = outline[gap.last + 1].row_mm + kMostMm;
    for (std::size_t k = gap.first; k <= gap.last; ++k) outline[k].seen = outline[k].seen && outline[k].s_mm < end;
  }
}

/// Steepest change over kWallMm between two places.
double steepest(const std::vector<Recession>& outline, double from, double to) {
  double best = 0;
  for (std::size_t k = 0; k < outline.size(); ++k) {
    if (!outline[k].seen || outline[k].row_mm < from || outline[k].row_mm > to) continue;
    for (std::size_t m = k + 1; m < outline.size() && outline[m].row_mm - outline[k].row_mm < 1.5 * kWallMm; ++m) {
      const double way = outline[m].row_mm - outline[k].row_mm;
      if (!outline[m].seen || way < kWallMm) continue;
      best = std::max(best, std::abs(outline[m].behind_mm - outline[k].behind_mm) / way);
    }
  }
  return best;
}

/// Median recession of the seen outline between two places; nothing where less than a quarter is seen.
std::optional<double> between(const std::vector<Recession>& outline, double from, double to) {
  std::vector<double> values;
  std::size_t all = 0;
  for (const Recession& r : outline) {
    if (r.row_mm < from || r.row_mm > to) continue;
    ++all;
    if (r.seen) values.push_back(r.behind_mm);
  }
  if (values.size() < 3 || values.size() * 4 < all) return std::nullopt;
  return std::max(-kMostAheadMm, median(values));
}

bool any_seen(const std::vector<Recession>& outline, double from, double to) {
  return std::any_of(outline.begin(), outline.end(),
                     [&](const Recession& r) { return r.seen && r.row_mm >= from && r.row_mm <= to; });
}

/// The outline without gaps that are deep enough to count: they tell nothing of where the edge stood.
std::vector<Recession> undamaged(const std::vector<Recession>& outline, const std::vector<Stretch>& gaps,
                                 double depth_mm) {
  std::vector<Recession> out = outline;
  for (const Stretch& gap : gaps) {
    const auto first = outline.begin() + static_cast<std::ptrdiff_t>(gap.first);
    const auto last = outline.begin() + static_cast<std::ptrdiff_t>(gap.last) + 1;
    const auto deep = [&](const Recession& r) {
      return r.seen && r.behind_mm - level_near(outline, r.row_mm) > depth_mm;
    };
    if (std::none_of(first, last, deep)) continue;
    for (std::size_t k = gap.first; k <= gap.last; ++k) out[k].seen = false;
  }
  return out;
}

/// True where a lower wall shows over a good part of a gap: less is dirt beside it.
bool shows_wall(const std::vector<Recession>& outline, const Stretch& stretch) {
  std::size_t wall = 0;
  for (std::size_t k = stretch.first; k <= stretch.last; ++k) wall += outline[k].flat_mm > outline[k].behind_mm ? 1 : 0;
  return 3 * wall > stretch.last - stretch.first + 1;
}

/// True where what lies ahead of the edge shows through most of a gap.
bool open(const std::vector<Recession>& outline, const Stretch& stretch) {
  const auto first = outline.begin() + static_cast<std::ptrdiff_t>(stretch.first);
  const auto last = outline.begin() + static_cast<std::ptrdiff_t>(stretch.last) + 1;
  return 2 * std::count_if(first, last, [](const Recession& r) { return r.open; }) > last - first;
}

/// True where all of a gap's outline is seen or the line of light is broken, and undamaged outline is seen right beside
/// it: only then is what leans over its end a wall, and no scratch.
bool clear_cut(const std::vector<Recession>& outline, const Stretch& stretch, double threshold) {
  constexpr std::size_t kBeside = 3;
  if (stretch.first < kBeside || stretch.last + kBeside >= outline.size()) return false;
  for (std::size_t k = stretch.first - kBeside; k <= stretch.last + kBeside; ++k) {
    const bool in_gap = k >= stretch.first && k <= stretch.last;
    const double off = outline[k].behind_mm - level_near(outline, outline[k].row_mm);
    const bool gone = in_gap && outline[k].broken;
    if ((!outline[k].seen && !gone) || (!in_gap && std::abs(off) >= threshold)) return false;
  }
  return true;
}

/// Greatest middle one of `together` neighbouring values.
double deepest_of(const std::vector<double>& values, std::size_t together) {
  double out = 0;
  for (auto from = values.begin(); values.end() - from >= static_cast<std::ptrdiff_t>(together); ++from)
    out = std::max(out, median(std::vector<double>(from, from + static_cast<std::ptrdiff_t>(together))));
  return out;
}

/// True where several rows together lie behind a straight level from `before` to `after`.
bool deep_together(const std::vector<Recession>& outline, const Stretch& stretch, double before, double after,
                   double least) {
  std::vector<double> behind;
  const std::size_t around = kRowsTogether / 2;
  const std::size_t first = stretch.first - std::min(stretch.first, around);
  const std::size_t last = std::min(outline.size() - 1, stretch.last + around);
  for (std::size_t k = first; k <= last; ++k) {
    const double share = static_cast<double>(k - first) / static_cast<double>(std::max<std::size_t>(1, last - first));
    const Recession& r = outline[k];
    behind.push_back(std::max(r.behind_mm, r.flat_mm) - before - share * (after - before));
  }
  return deepest_of(behind, kRowsTogether) >= least;
}

FoundChip described(const std::vector<Recession>& outline, const Stretch& stretch, double before, double after,
                    double mm_per_px) {
  const double from = outline[stretch.first].row_mm;
  const double to = outline[stretch.last].row_mm;
  const bool wall = shows_wall(outline, stretch);
  FoundChip out;
  double depth = 0;
  double to_wall = 0;  // depth of the outline itself, where a lower wall shows ahead of the flat's end
  std::vector<double> flat_behind;
  double area = 0;
  std::size_t unseen_rows = 0;
  double end = to;
  for (std::size_t k = stretch.first; k <= stretch.last; ++k) {
    if (!outline[k].seen) {
      ++unseen_rows;
      continue;
    }
    end = std::max(end, outline[k].s_mm);
    const double share = to > from ? (outline[k].row_mm - from) / (to - from) : 0;
    const double level = before + share * (after - before);
    const double behind = (wall ? outline[k].flat_mm : outline[k].behind_mm) - level;
    to_wall = std::max(to_wall, outline[k].behind_mm - level);
    flat_behind.push_back(outline[k].flat_mm - level);
    if (k > stretch.first) area += std::max(0.0, behind) * (outline[k].row_mm - outline[k - 1].row_mm);
    if (behind <= depth) continue;
    depth = behind;
    out.chip.at_mm = outline[k].s_mm;
  }
  out.from_mm = from;
  out.to_mm = end;
  out.wall = wall;
  // Shade in a part of the gap may be its bottom or what lies below it.
  const double shade = wall ? 0 : std::max(0.0, deepest_of(flat_behind, 3) - depth - 2 * mm_per_px);
  depth += shade / 2;
  // Outline noise of half a pixel at the bottom and half as much at the neighbours; what counts as the bottom of a
  // ragged gap is uncertain by some hundredths; a wall in the gap makes its end a matter of reading.
  const double noise = 0.6 * mm_per_px;
  // Rows cover a step each, and the gap's far wall leans over those that end before it.
  const double step = (to - from) / static_cast<double>(std::max<std::size_t>(1, stretch.last - stretch.first));
  const double width = end - from + step;
  // What is not seen may be the deepest.
  const double unseen = static_cast<double>(unseen_rows) / static_cast<double>(stretch.last + 1 - stretch.first);
  const double reading =
      std::hypot(0.05 * depth, wall ? 0.15 * (depth - to_wall) : shade / 2 * kRectangular, unseen * depth / 2);
  if (unseen < 1) area /= 1 - unseen;
  out.chip.depth_mm = {depth, {{Source::kEdge, noise}, {Source::kDefinition, reading}}};
  out.chip.width_mm = {width, {{Source::kEdge, 1.5 * mm_per_px}, {Source::kDefinition, 0.08 * width}}};
  out.chip.area_mm2 = {area, {{Source::kEdge, noise * width}, {Source::kDefinition, reading * width}}};
  return out;
}

/// A gap cut off by outline that is not seen goes on there and may be deeper; its outline may also have jumped to the
/// other edge of a dull edge's strip. Of seven such gaps in rendered photographs none was deeper by more than two
/// thirds than what is seen of it.
void expect_more(Chip& chip) {
  constexpr double kDeeper = 2.0 / 3;
  const double seen = chip.depth_mm.value;
  const double least = std::max(0.0, seen - kWidestStripMm);
  const double most = (1 + kDeeper) * seen;
  chip.depth_mm.value = (least + most) / 2;
  chip.depth_mm.budget.push_back({Source::kDefinition, (most - least) / 2 * kRectangular});
  chip.width_mm.budget.push_back({Source::kDefinition, chip.width_mm.value / 2});
}

/// Adds what the blur keeps the outline from reaching.
void reach_into_tip(Quantity& depth, const OutlineSight& sight) {
  constexpr double kSharpest = 1.29;                    // tip of 60 degrees
  const double half = kSharpest / 2 * sight.blur_px * sight.mm_per_px;
  depth.value += half;
  depth.budget.push_back({Source::kDefinition, half * kRectangular});
}

/// Where, as a share of the way from a stretch's end towards the corner, its outline first lies half as deep as it ever
/// does. An arc that leaves the line gradually: 0.7 and more; a straight facet 0.5; a gap with a wall next to nothing.
double half_way(const std::vector<Recession>& outline, const Stretch& stretch, double level) {
  const bool wall = shows_wall(outline, stretch);
  const auto depth = [&](const Recession& r) { return (wall ? r.flat_mm : r.behind_mm) - level; };
  double deepest = 0;
  for (std::size_t k = stretch.first; k <= stretch.last; ++k) deepest = std::max(deepest, depth(outline[k]));
  const double end = outline[stretch.last].row_mm;
  for (std::size_t k = stretch.last + 1; k-- > stretch.first;) {
    if (outline[k].seen && depth(outline[k]) >= deepest / 2)
      return (end - outline[k].row_mm) / std::max(1e-6, end - outline[stretch.first].row_mm);
  }
  return 1;
}

/// True where a stretch ends in a wall of most of its depth, beyond which the outline runs along the edge: a rounded
/// corner's bend may have a step, but it bends on. `after`: level of the neighbours there.
bool ends_in_wall(const std::vector<Recession>& outline, const Stretch& stretch, double after, double mm_per_px) {
  constexpr double kLeastShare = 0.55;  // of the usual depth: dirt makes steps in a rounded corner too
  constexpr double kMostBendMm = 0.015;  // over the next third of a millimetre
  constexpr double kLeastMm = 0.06;     // a semi-chisel's outline bends away by 0.04 mm there
  const double to = outline[stretch.last].row_mm;
  const auto inside = between(outline, to - 0.15, to - 0.05);
  const auto outside = between(outline, to + 0.02, to + 0.12);
  const auto usual = between(outline, outline[stretch.first].row_mm, to);
  const auto farther = between(outline, to + 0.25, to + 0.5);
  if (!inside || !outside || !usual) return false;
  if (farther && *outside - *farther > kMostBendMm) return false;
  return *inside - *outside >= std::max({kLeastMm, kFollowPx * mm_per_px, kLeastShare * (*usual - after)});
}

/// Less receded place of every tenth of a millimetre that is seen, (row, behind); from the corner inwards.
std::vector<Point2> places_of(const std::vector<Recession>& outline, double to_mm) {
  constexpr double kBinMm = 0.1;
  constexpr double kLessReceded = 0.3;
  std::vector<Point2> out;
  for (double from = 0; from < to_mm; from += kBinMm) {
    std::vector<double> values;
    for (const Recession& r : outline) {
      if (r.seen && r.row_mm >= from && r.row_mm < from + kBinMm) values.push_back(r.behind_mm);
    }
    if (values.size() > 1) out.emplace_back(from + kBinMm / 2, percentile(values, kLessReceded));
  }
  return out;
}

/// Corners of the convex outline through the least receded places of a bend, (row, behind), up to the line at `to_mm`.
std::vector<Point2> convex_bend(const std::vector<Recession>& outline, double to_mm) {
  std::vector<Point2> places = places_of(outline, to_mm);
  if (places.empty()) return places;
  places.emplace_back(std::max(to_mm, places.back().x() + 1e-6), 0);
  std::vector<Point2> out;
  const auto slope = [](const Point2& a, const Point2& b) { return (b.y() - a.y()) / (b.x() - a.x()); };
  for (const Point2& p : places) {
    while (out.size() > 1 && slope(out[out.size() - 2], out.back()) >= slope(out.back(), p)) out.pop_back();
    out.push_back(p);
  }
  return out;
}

double level_of(const std::vector<Point2>& bend, double row_mm) {
  for (std::size_t k = 0; k + 1 < bend.size(); ++k) {
    if (row_mm > bend[k + 1].x()) continue;
    const double share = std::max(0.0, row_mm - bend[k].x()) / (bend[k + 1].x() - bend[k].x());
    return bend[k].y() + share * (bend[k + 1].y() - bend[k].y());
  }
  return bend.back().y();
}

}  // namespace

std::vector<FoundChip> find_chips(const std::vector<Recession>& traced, const OutlineSight& sight, double from_mm,
                                  double to_mm) {
  const double mm_per_px = sight.mm_per_px;
  const double followed = std::max(kFollowMm, kFollowPx * mm_per_px);
  std::vector<FoundChip> out;
  std::vector<Recession> outline = traced;
  drop_undercut(outline, receded(outline, followed), to_mm);
  const std::vector<Stretch> gaps = receded(outline, followed);
  const double reported = std::max(kReportMm, kReportPx * mm_per_px);
  const std::vector<Recession> whole = undamaged(outline, gaps, reported);
  for (const Stretch& stretch : gaps) {
    const double from = outline[stretch.first].row_mm;
    const double to = outline[stretch.last].row_mm;
    const double steep = steepest(outline, from - kWallMm, to + kWallMm);
    if (from < from_mm || to > to_mm || steep < kSteep) continue;
    const auto before = between(whole, from - kNeighbourMm, from - 0.03);
    const auto after = between(whole, to + 0.03, to + kNeighbourMm);
    if (!before && from < kCornerMm) continue;  // a corner worn away
    const double level_before = before.value_or(0);
    const double level_after = after.value_or(level_before);
    FoundChip chip = described(outline, stretch, level_before, level_after, mm_per_px);
    const double depth = chip.chip.depth_mm.value;
    const bool bounded = before && after && any_seen(whole, from - kUnseenMm, from) && any_seen(whole, to, to + kUnseenMm);
    if (!bounded) expect_more(chip.chip);
    const double least = bounded ? reported : std::max(reported, kWidestStripMm);
    const double width = clear_cut(outline, stretch, followed) ? chip.chip.width_mm.value : to - from;
    const bool narrow = width < kLeastWidths * depth;
    const bool narrow_gap = open(outline, stretch) && width > std::max(kLeastOpenMm, kLeastOpenWidths * depth);
    if (depth < least || (narrow && !narrow_gap)) continue;
    if (depth < kDullSpot * (to - from) && steep < kSteepInDullSpot) continue;
    if (!deep_together(outline, stretch, level_before, level_after, kTogetherShare * least)) continue;
    if (bounded && !shows_wall(outline, stretch)) reach_into_tip(chip.chip.depth_mm, sight);
    out.push_back(chip);
  }
  return out;
}

std::vector<Recession> behind_bend(const std::vector<Recession>& outline, double to_mm) {
  const std::vector<Point2> bend = convex_bend(outline, to_mm);
  std::vector<Recession> out = outline;
  if (bend.empty()) return out;
  for (Recession& r : out) {
    if (r.row_mm > to_mm) continue;
    if (r.row_mm < bend.front().x()) r.seen = false;
    const double level = level_of(bend, r.row_mm);
    r.behind_mm -= level;
    r.flat_mm -= level;
  }
  return out;
}

std::optional<FoundChip> find_corner_gap(const std::vector<Recession>& outline, double mm_per_px) {
  constexpr double kCornerMm = 0.15;  // of outline that may be told wrongly where edge and side meet
  constexpr double kMostHalfWay = 0.45;
  constexpr double kOwnRoundingMm = 0.35;  // along the edge, of a chisel's radius of up to 0.3 mm (TRADE.md)
  const std::vector<Stretch> stretches = receded(outline, std::max(kFollowMm, kFollowPx * mm_per_px));
  if (stretches.empty()) return std::nullopt;
  const Stretch& stretch = stretches.front();
  const double to = outline[stretch.last].row_mm;
  const auto before = [&](const Recession& r) { return r.seen && r.row_mm > 0; };
  const auto first = std::find_if(outline.begin(), outline.end(), before);
  if (first == outline.end() || outline[stretch.first].row_mm > first->row_mm + kCornerMm) return std::nullopt;
  const auto after = between(outline, to + 0.03, to + kNeighbourMm);
  if (to < kOwnRoundingMm || !after || half_way(outline, stretch, *after) > kMostHalfWay) return std::nullopt;
  if (!ends_in_wall(outline, stretch, *after, mm_per_px)) return std::nullopt;
  FoundChip gap = described(outline, stretch, *after, *after, mm_per_px);
  const double depth = gap.chip.depth_mm.value;
  if (depth < std::max(kReportMm, kReportPx * mm_per_px)) return std::nullopt;
  gap.from_mm = std::min(0.0, gap.from_mm);
  gap.chip.width_mm.value = gap.to_mm;
  gap.chip.at_corner = true;
  return gap;
}

}  // namespace glintline
