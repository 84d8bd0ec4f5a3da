#include "trace/bevel.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "math/statistics.h"
#include "trace/edge_profile.h"
#include "trace/outline_sight.h"

namespace glintline {

namespace {

/// The picture so far ahead of a place (towards the front) in its row.
cv::Vec3b ahead_of(const CutterScene& s, const Point2& at, double ahead_mm) {
  const int x = std::clamp(static_cast<int>(at.x() + s.px(ahead_mm)), 0, s.picture.cols - 1);
  const int y = std::clamp(static_cast<int>(at.y()), 0, s.picture.rows - 1);
  return s.picture.at<cv::Vec3b>(y, x);
}

/// True where the millimetre behind an edge (towards the rear) stays darker than the open field before it, or not of
/// its colour: a bevel.
bool stays_off_field(const CutterScene& s, const Point2& edge) {
  std::vector<double> field;
  for (double ahead = 0.15; ahead < 0.6; ahead += 0.05) field.push_back(s.field->along(ahead_of(s, edge, ahead)));
  const double level = median(field);
  int off = 0;
  int all = 0;
  for (double behind = 0.15; behind < 1.2; behind += 0.05, ++all) {
    const auto c = ahead_of(s, edge, -behind);
    off += s.field->differs(c) || s.field->along(c) < 0.88 * level ? 1 : 0;
  }
  return off > 0.75 * all;
}

/// True where a lump of sawdust begins at an edge: it hardly shows the field's colour, and behind it the open field
/// goes on. Steel is neutral, and a bevel that mirrors the field is darker than that.
bool is_lump(const CutterScene& s, const Point2& edge) {
  constexpr double kStepMm = 0.05;
  constexpr int kLeast = 3;  // samples: a glint on the edge is narrower
  constexpr int kMost = 30;
  constexpr int kField = 10;  // of field behind it
  constexpr double kAsBright = 0.7;
  // Wood shows a sixth, steel a third or more (by experiment: the study's photographs).
  constexpr double kLittle = 0.25;
  const auto level = [&](int from) {
    std::vector<double> field;
    for (int k = from; k < from + kField; ++k) field.push_back(s.field->along(ahead_of(s, edge, k * kStepMm)));
    return median(std::move(field));
  };
  const auto differs = [&](int k) { return s.field->differs(ahead_of(s, edge, -k * kStepMm)); };
  int end = 1;
  while (end < kMost && differs(end)) ++end;
  if (end <= kLeast || end == kMost) return false;
  for (int k = end; k < end + kField; ++k) {
    if (differs(k)) return false;
  }
  const double open = level(3);
  const double inside = s.field->along(ahead_of(s, edge, -0.5 * end * kStepMm));
  return inside < kLittle * open && level(1 - end - kField) > kAsBright * open;
}

/// Median sine between the light and the field's colour, `from` to `to` mm ahead of a place in its row.
double tint_ahead(const CutterScene& s, const Point2& at, double from_mm, double to_mm) {
  std::vector<double> sines;
  for (double ahead = from_mm; ahead <= to_mm; ahead += 0.05) {
    const auto c = ahead_of(s, at, ahead);
    const double across = s.field->across(c);
    sines.push_back(across / std::max(1e-4, std::hypot(across, static_cast<double>(s.field->along(c)))));
  }
  return median(std::move(sines));
}

/// The edges met at a distance under the top's line, from the gullet's open field on towards the rear.
std::vector<Point2> edges_under(const CutterScene& s, const Line2& top, double under, double from, double to) {
  const double step = s.px(0.2);
  std::vector<Point2> edges;
  for (double x = from; x > to; x -= step) {
    const auto seen = sight(s, {std::round(x), std::round(on_line(top, x).y() + under)}, {-1, 0}, 3);
    if (!seen) continue;
    const auto& edge = seen->drop ? seen->drop : seen->rise;
    if (edge && std::abs(edge->x() - x) <= step) edges.push_back(*edge);
  }
  return edges;
}

/// Those of the places that stand under one another; none where the most of them do not.
std::vector<Point2> upright_row(const CutterScene& s, const std::vector<Point2>& places) {
  std::vector<double> xs;
  for (const Point2& p : places) xs.push_back(p.x());
  const double middle = median(std::move(xs));
  std::vector<Point2> kept;
  for (const Point2& p : places) {
    if (std::abs(p.x() - middle) < s.px(0.35)) kept.push_back(p);
  }
  return kept.size() * 2 > places.size() ? kept : std::vector<Point2>{};
}

/// By how much the end of the outline so far lies under the line through all of it: where the plate's slanting edge
/// begins to make the outline, it has left the line already.
double under_line_at_end(const CutterScene& s, const std::vector<Point2>& points, const Line2& line, double end) {
  constexpr double kEndMm = 0.5;
  std::vector<double> under;
  for (const Point2& p : points) {
    if (end - p.x() < s.px(kEndMm)) under.push_back(p.y() - on_line(line, p.x()).y());
  }
  return under.size() < 5 ? 0 : median(std::move(under));
}

/// How much darker in the field's colour the body is just under a place of its outline than the field over it, a share
/// of the field's light.
double darker_under(const CutterScene& s, const Point2& edge) {
  constexpr double kNearMm = 0.1;  // clear of the edge's own blur
  constexpr double kFarMm = 0.45;
  constexpr double kStepMm = 0.03;
  std::vector<double> under;
  std::vector<double> over;
  for (int aside = -3; aside <= 3; ++aside) {
    const int x = std::clamp(static_cast<int>(edge.x()) + aside, 0, s.picture.cols - 1);
    const auto light = [&](double y) {
      return s.field->along(s.picture.at<cv::Vec3b>(std::clamp(static_cast<int>(y), 0, s.picture.rows - 1), x));
    };
    for (double away = kNearMm; away < kFarMm; away += kStepMm) {
      under.push_back(light(edge.y() + s.px(away)));
      over.push_back(light(edge.y() - s.px(away)));
    }
  }
  return 1 - median(std::move(under)) / std::max(1e-4, median(std::move(over)));
}

/// True where a bevel goes on under an outline by what `contrasts` it showed so far: a shadow's rim beyond its end
/// parts hardly anything from the field.
bool bevel_goes_on(const std::vector<double>& contrasts, double contrast) {
  constexpr double kLeast = 0.2;
  constexpr double kShare = 0.6;
  constexpr std::ptrdiff_t kBefore = 20;
  if (contrast < kLeast) return false;
  const auto from = contrasts.end() - std::min(kBefore, std::ssize(contrasts));
  return contrasts.empty() || contrast > kShare * median(std::vector<double>(from, contrasts.end()));
}

}  // namespace

Line2 line_so_far(const CutterScene& s, const std::vector<Point2>& points, const Line2& coarse) {
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.3});
  if (!fit.ok()) return coarse;
  const double span = std::abs(points.back().x() - points.front().x()) * s.frame.mm_per_px;
  const double slope = fit->line.direction.y() / fit->line.direction.x();
  constexpr double kUsualFall = 0.087;
  constexpr double kFallSpread = 0.04;
  const double u = std::max(1e-4, fit->u_angle_rad() + 0.02 / std::max(0.1, span));
  const double share = kFallSpread * kFallSpread / (kFallSpread * kFallSpread + u * u);
  const double mixed = share * slope - (1 - share) * kUsualFall;
  return {fit->line.point, Point2(1, mixed).normalized()};
}

int follow_bevel(const CutterScene& s, const Landmarks& m, double bend, std::vector<Point2>& points) {
  const double near = s.px(0.05) + 1.5;
  const int patience = static_cast<int>(s.px(0.4));
  Line2 straight = line_so_far(s, points, m.plate_line);
  straight.point.y() += under_line_at_end(s, points, straight, m.plate_to);
  const double slope = straight.direction.y() / straight.direction.x();
  Point2 last = on_line(straight, m.plate_to);
  bool bent = false;
  std::vector<double> contrasts;
  for (int x = m.plate_to + 2; x < m.gauge && x - last.x() < patience; x += 2) {
    std::optional<Point2> best;
    bool slow = false;
    bool bare = false;
    for (const bool tried : {false, true}) {
      if (bent && !tried) continue;
      const double y = last.y() + (x - last.x()) * (slope + (tried ? bend : 0));
      const auto seen = sight(s, {static_cast<double>(x), std::round(y)}, {0, 1}, 3);
      if (!seen) continue;
      for (const auto& edge : {seen->drop, seen->rise, seen->slow_fall}) {
        if (!edge || std::abs(edge->y() - y) > near) continue;
        if (best && std::abs(edge->y() - y) >= std::abs(best->y() - y)) continue;
        best = *edge;
        slow = seen->slow_fall.has_value();
        bare = seen->rise && *seen->rise == *best;
      }
    }
    if (!best) continue;
    // Light of another colour is bare steel's by itself.
    if (!bare) {
      const double contrast = darker_under(s, *best);
      if (!bevel_goes_on(contrasts, contrast)) continue;
      contrasts.push_back(contrast);
    }
    // A slow fall leads on, but half of it lies before the rim where a shadow goes along.
    if (!slow) points.push_back(*best);
    // The place followed is smoothed, so that one stray sighting does not lead away.
    const double expected = last.y() + (x - last.x()) * slope;
    if (best->y() - expected > 0.6 * bend * (x - last.x()) + near) bent = true;
    last = {static_cast<double>(x), last.y() + (x - last.x()) * (slope + (bent ? bend : 0))};
    last.y() += 0.3 * (best->y() - last.y());
    if (std::abs(best->y() - on_line(straight, x).y()) > std::abs(bend) * s.px(1.0) + near) bent = true;
  }
  return static_cast<int>(last.x());
}

bool mirrors_field(const CutterScene& s, const Line2& top, int from, int to) {
  int mirrored = 0;
  int all = 0;
  for (int x = from; x <= to; x += 2) {
    for (const double under : {0.15, 0.3, 0.45}) {
      const int y = static_cast<int>(on_line(top, x).y() + s.px(under));
      if (y < 0 || y >= s.picture.rows || x >= s.picture.cols) continue;
      ++all;
      mirrored += s.field->differs(s.picture.at<cv::Vec3b>(y, x)) ? 0 : 1;
    }
  }
  return mirrored * 2 > all;
}

std::vector<Point2> bevel_front(const CutterScene& s, const Landmarks& m, const Line2& top, int from) {
  constexpr double kShadowMm = 1.5;
  std::vector<Point2> first;
  std::vector<Point2> coloured;
  for (double under = s.px(0.12); under < s.px(1.0); under += 2) {
    const auto edges = edges_under(s, top, under, 0.5 * (m.gauge + m.gullet), from - s.px(0.3 + kShadowMm));
    const auto met = std::find_if(edges.begin(), edges.end(), [&](const Point2& edge) {
      return edge.x() > from - s.px(0.3) && stays_off_field(s, edge) && !is_lump(s, edge);
    });
    if (met == edges.end()) continue;
    first.push_back(*met);
    const auto other = std::find_if(met, edges.end(), [&](const Point2& edge) {
      return tint_ahead(s, edge, -0.4, -0.1) > tint_ahead(s, edge, 0.1, 0.4) + kLeastTint && !is_lump(s, edge);
    });
    if (other != edges.end() && met->x() - other->x() < s.px(kShadowMm)) coloured.push_back(*other);
  }
  if (coloured.size() * 3 > first.size()) {
    std::vector<Point2> front = upright_row(s, coloured);
    if (!front.empty()) return front;
  }
  return upright_row(s, first);
}

double falls_at_once(const CutterScene& s, const std::vector<Point2>& front) {
  constexpr double kNearMm = 0.08;
  constexpr double kFarMm = 0.5;
  constexpr int kRows = 3;  // either way, averaged
  std::vector<double> shares;
  for (const Point2& p : front) {
    const auto light = [&](double ahead_mm) {
      double sum = 0;
      for (int k = -kRows; k <= kRows; ++k) sum += s.field->along(ahead_of(s, p + Point2(0, k), ahead_mm));
      return sum;
    };
    shares.push_back((light(kNearMm) - light(-kNearMm)) / std::max(1e-6, light(kFarMm) - light(-kFarMm)));
  }
  return median(std::move(shares));
}

}  // namespace glintline
