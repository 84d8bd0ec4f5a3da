#include "measure/cutter_geometry.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <vector>

#include "math/either.h"
#include "math/line_fit.h"
#include "math/prior_fit.h"
#include "math/rectangular.h"
#include "math/robust.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// Tangent of the edge angle: 25 to 35 degrees (TRADE: felling handbooks). It decides how much of the plate stands
/// behind the outline near the corner.
constexpr double kEdgeTangent = 0.58;
constexpr double kUEdgeTangent = 0.09;
/// Tangent of a top plate's fall: 2 to 8 degrees, all alike probable (the trade's default 5 +- 3).
constexpr double kUsualFall = 0.0875;
constexpr double kUFall = 0.030;

/// Radius of rounded corners: about 1 to 2 mm (from memory).
constexpr double kUsualShoulderMm = 1.5;
constexpr double kUUsualShoulderMm = 0.4;

/// Share of fronts that are misread and then say anything.
constexpr double kMisread = 0.1;

/// Under so much the foremost point's depth does not tell a shoulder.
constexpr double kLeastShoulderMm = 0.7;

/// Radius of the rounded shoulder between top plate and side plate: the working corner of a semi-chisel cutter stands
/// that far under its top plate, a chisel's within a few tenths of it.
double shoulder_of(const CutterGeometry& g) {
  constexpr double kMostMm = 2.0;  // rounded corners: about 1 to 2 mm (from memory)
  if (!g.corner_x || !g.corner_z) return 0;
  const double under = g.plate_high - *g.corner_z;
  return under < kLeastShoulderMm ? 0 : std::min(under, kMostMm);
}

/// The gauge's higher rim at the place of an outline's point, as it follows from the rim that makes the outline.
Point2 higher_rim(const ChainFrame& frame, const Point2& px, const ProfileHeights& h, bool outer) {
  return outer ? frame.at(px, h.gauge_outer) + Point2(0, std::max(0.0, h.gauge_fall))
               : frame.at(px, h.gauge_inner) + Point2(0, std::max(0.0, -h.gauge_fall));
}

/// True where the gauge's outer rim makes its outline. The sight line meets the planes of both rims; the one that makes
/// the outline hides the other, so it is the one whose place leaves the other under it.
bool outer_rim_outlines(const ChainFrame& frame, const Point2& px, const ProfileHeights& h) {
  return frame.at(px, h.gauge_outer).y() + h.gauge_fall <= frame.at(px, h.gauge_inner).y();
}

/// Highest point of a smooth outline.
struct Highest {
  Point2 at = Point2::Zero();
  double u = 0;
};

/// The stretch of an outline about its crest that lies less than `kCrestMm` under it: a gauge filed aslant ends in a
/// peak, and what follows behind it, a strap or the gullet, would bend any curve through all of the outline. The crest
/// is the highest running median over `kCrestSpanMm`, which single points and short runs cannot lift.
std::vector<Point2> crest_of(std::vector<Point2> points) {
  constexpr double kCrestMm = 0.25;
  constexpr double kCrestSpanMm = 0.2;
  constexpr std::size_t kLeastPoints = 12;
  std::sort(points.begin(), points.end(), [](const Point2& a, const Point2& b) { return a.x() < b.x(); });
  std::vector<double> level;
  for (const Point2& p : points) {
    std::vector<double> near;
    for (const Point2& q : points) {
      if (std::abs(q.x() - p.x()) < kCrestSpanMm / 2) near.push_back(q.y());
    }
    level.push_back(median(std::move(near)));
  }
  const auto crest = std::max_element(level.begin(), level.end());
  auto from = crest, to = crest;
  while (from != level.begin() && *(from - 1) > *crest - kCrestMm) --from;
  while (to + 1 != level.end() && *(to + 1) > *crest - kCrestMm) ++to;
  const auto count = static_cast<std::size_t>(to - from + 1);
  if (count < kLeastPoints) return points;
  const auto first = points.begin() + (from - level.begin());
  return {first, first + static_cast<std::ptrdiff_t>(count)};
}

/// Least squares polynomial of degree 4 through points the residuals' MAD does not reject; its highest point inside.
/// A gauge's crown, round or filed flat, is smooth over the half millimetre under its top that is traced.
std::optional<Highest> highest(const std::vector<Point2>& points) {
  constexpr int kTerms = 5;
  double from = points.front().x();
  double to = from;
  for (const Point2& p : points) {
    from = std::min(from, p.x());
    to = std::max(to, p.x());
  }
  const double middle = 0.5 * (from + to);
  const double half = std::max(1e-6, 0.5 * (to - from));
  const auto row = [&](double x) {
    Eigen::Matrix<double, kTerms, 1> r;
    const double t = (x - middle) / half;
    for (int k = 0; k < kTerms; ++k) r[k] = std::pow(t, k);
    return r;
  };
  std::vector<double> weights(points.size(), 1.0);
  Eigen::Matrix<double, kTerms, 1> c;
  Eigen::Matrix<double, kTerms, kTerms> inverse;
  double sigma = 0;
  for (int round = 0; round < 8; ++round) {
    Eigen::Matrix<double, kTerms, kTerms> normal = Eigen::Matrix<double, kTerms, kTerms>::Identity() * 1e-9;
    Eigen::Matrix<double, kTerms, 1> right = Eigen::Matrix<double, kTerms, 1>::Zero();
    for (std::size_t i = 0; i < points.size(); ++i) {
      const auto r = row(points[i].x());
      normal += weights[i] * r * r.transpose();
      right += weights[i] * points[i].y() * r;
    }
    inverse = normal.inverse();
    c = inverse * right;
    std::vector<double> residuals;
    for (const Point2& p : points) residuals.push_back(p.y() - c.dot(row(p.x())));
    sigma = std::max(0.002, residual_scale(residuals, kTerms));
    for (std::size_t i = 0; i < points.size(); ++i)
      weights[i] = robust_weight(round < 2 ? Loss::kHuber : Loss::kTukey, residuals[i] / sigma);
  }
  std::optional<Highest> best;
  for (double x = from + 0.1 * half; x <= to - 0.1 * half; x += 0.01) {
    const auto r = row(x);
    const double z = c.dot(r);
    // Neighbouring crossings share the picture's grain; two of them count as one.
    if (!best || z > best->at.y()) best = Highest{{x, z}, sigma * std::sqrt(2 * r.dot(inverse * r))};
  }
  return best;
}

std::vector<Point2> in_frame(const ChainFrame& frame, const std::vector<EdgePoint>& edge, double height) {
  std::vector<Point2> points;
  points.reserve(edge.size());
  for (const EdgePoint& e : edge) points.push_back(frame.at(e.px, height));
  return points;
}

/// x at which the front outline stands at height z, as the median of the points within a tenth of a millimetre.
std::optional<double> front_at(const std::vector<Point2>& front, double z) {
  std::vector<double> near;
  for (const Point2& p : front) {
    if (std::abs(p.y() - z) < 0.1) near.push_back(p.x());
  }
  if (near.size() < 2) return std::nullopt;
  return median(near);
}

/// A corner and the standard uncertainties of its x and z.
struct Corner {
  Point2 at = Point2::Zero();
  double u = 0;
  double u_z = 0.02;
};

/// The working corner of an outline that runs back under it: the first place, from the top down, where the outline
/// stands foremost before it does (means of three crossings, as a single one is noisy).
std::optional<Corner> undercut_corner(const std::vector<Point2>& front, double top_z) {
  constexpr double kUndercutMm = 0.08;
  constexpr double kDeepestMm = 2.1;  // rounded corners: about 1 to 2 mm (from memory); lower down the gullet begins
  std::optional<Point2> foremost;
  for (std::size_t i = 1; i + 1 < front.size(); ++i) {
    if (top_z - front[i].y() > kDeepestMm) break;
    const Point2 mean = (front[i - 1] + front[i] + front[i + 1]) / 3;
    if (!foremost || mean.x() > foremost->x()) foremost = mean;
    if (mean.x() < foremost->x() - kUndercutMm) return Corner{*foremost, 0.01};
  }
  return std::nullopt;
}

/// Where too little of the front is seen to tell its shape: its foremost point.
Corner foremost_of(const std::vector<Point2>& front) {
  const auto foremost =
      std::max_element(front.begin(), front.end(), [](const Point2& a, const Point2& b) { return a.x() < b.x(); });
  return {*foremost, 0.05};
}

/// A point of the front's outline: depth under the top and x in the plane of the outer face, and how x changes towards
/// the plate's inner end.
struct EdgeRay {
  double depth = 0;
  double x = 0;
  double x_per_mm = 0;
};

std::vector<EdgeRay> front_rays(const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h,
                                double top_z) {
  const double inwards = h.plate_inner > h.plate_outer ? 1 : -1;
  std::vector<EdgeRay> rays;
  for (const EdgePoint& e : cutter.front) {
    const SightLine line = frame.sight_line(e.px);
    const Point2 outer = line.at(h.plate_outer);
    rays.push_back({top_z - outer.y(), outer.x(), inwards * line.per_mm.x()});
  }
  return rays;
}

/// Distance of the edge inside the outer face at depth `d` under the top, on a corner rounded to `radius`.
double inside_face(double radius, double d) {
  return d >= radius ? 0 : radius - std::sqrt(std::max(0.0, radius * radius - (radius - d) * (radius - d)));
}

/// A rounded corner as seen from the side, for one radius.
struct RoundedCorner {
  double radius = 0;
  double x = 0;
  double u = 0;
  double cost = 0;  ///< minus the logarithm of how well outline and usual shapes agree with it
};

/// Seen from the front, top plate and side plate are joined by an arc of radius R; the cutting edge lies in an upright
/// plane that slants back by the edge angle. So at depth d under the top the edge lies y = R - sqrt(R² - (R - d)²)
/// inside the outer face and y tan(edge angle) behind the corner, which is reached at d = R. Round it the file has cut
/// the front hollow, with its own curvature. In the outline this reads x = x_c - y tan + s (d - R) + q (d - R)².
std::optional<RoundedCorner> rounded_corner(const std::vector<EdgeRay>& front, double radius) {
  constexpr double kLeastMm = 0.01;  // fronts are rough from filing
  constexpr double kCorrelated = 6;
  constexpr double kBelowTopMm = 0.1;
  constexpr double kUnderCornerMm = 0.8;
  constexpr double kSeenBelowMm = 0.3;
  // Files of 4 to 5.5 mm, seen along the card at 30 degrees to their axis: 1 / (2 r cos 30°); none where a front was
  // ground flat.
  constexpr double kFileBow = 0.2;
  constexpr double kUFileBow = 0.1;
  Observations<4> seen;
  double deepest = 0;
  for (const EdgeRay& e : front) {
    if (e.depth < kBelowTopMm || e.depth > radius + kUnderCornerMm) continue;
    deepest = std::max(deepest, e.depth);
    const double y = inside_face(radius, e.depth);
    const double d = e.depth - radius;
    seen.add({1, -y, d, d * d}, e.x + y * e.x_per_mm);
  }
  if (seen.values.size() < 12 || deepest < radius + kSeenBelowMm) return std::nullopt;
  Prior<4> prior;
  prior.mean << 0, kEdgeTangent, 0, kFileBow;
  prior.u << std::numeric_limits<double>::infinity(), kUEdgeTangent, 1, kUFileBow;
  const Eigen::Vector4d start(median(seen.values), kEdgeTangent, 0, kFileBow);
  const auto fit = fit_with_prior(
      seen, prior, start, {.loss = Loss::kHuber, .least_sigma = kLeastMm, .correlated = kCorrelated, .rounds = 6});
  RoundedCorner out{radius, fit.value[0], std::sqrt(fit.covariance(0, 0)), 0};
  // Likelihood of a normal sample whose variance is its own: n log sigma.
  out.cost = static_cast<double>(front.size()) / kCorrelated * std::log(fit.sigma);
  out.cost += 0.5 * (fit.value - prior.mean).cwiseQuotient(prior.u).tail<3>().squaredNorm();
  return out;
}

/// The corner where the front shows no undercut: a rounded one. The radius is told by the outline as far as it goes;
/// all radii are averaged with the weights that it gives them.
std::optional<Corner> averaged_rounded_corner(const std::vector<EdgeRay>& front, double top_z) {
  constexpr double kLeastRadiusMm = 0.5;
  constexpr double kMostRadiusMm = 2.2;
  std::vector<RoundedCorner> tried;
  for (double radius = kLeastRadiusMm; radius <= kMostRadiusMm; radius += 0.1) {
    if (auto corner = rounded_corner(front, radius)) {
      corner->cost += 0.5 * std::pow((radius - kUsualShoulderMm) / kUUsualShoulderMm, 2);
      tried.push_back(*corner);
    }
  }
  if (tried.empty()) return std::nullopt;
  double least = tried.front().cost;
  for (const RoundedCorner& corner : tried) least = std::min(least, corner.cost);
  double sum = 0, x = 0, x2 = 0, radius = 0, radius2 = 0;
  for (const RoundedCorner& corner : tried) {
    const double weight = std::exp(least - corner.cost);
    sum += weight;
    x += weight * corner.x;
    x2 += weight * (corner.x * corner.x + corner.u * corner.u);
    radius += weight * corner.radius;
    radius2 += weight * corner.radius * corner.radius;
  }
  x /= sum;
  radius /= sum;
  const auto spread = [sum](double squares, double mean) {
    return std::sqrt(std::max(0.0, squares / sum - mean * mean));
  };
  // No corner is quite an arc, nor its front quite a file's: a fifth of the radius is left open (by experiment:
  // tests/accuracy).
  return Corner{{x, top_z - radius}, spread(x2, x), std::hypot(0.2 * radius, spread(radius2, radius))};
}

void find_front(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  const std::vector<Point2> front = in_frame(frame, cutter.front, h.plate_outer);
  if (front.size() < 5) return;
  auto corner = undercut_corner(front, g.plate_high);
  if (!corner) corner = averaged_rounded_corner(front_rays(frame, cutter, h, g.plate_high), g.plate_high);
  if (!corner) corner = foremost_of(front);
  g.corner_x = corner->at.x();
  g.corner_z = corner->at.y();
  g.u_corner_x = corner->u;
  g.u_corner_z = corner->u_z;
  // A chisel's sharp corner lies on the plate's own line; the foremost point of its worn tip stands a little under it.
  constexpr double kTipMm = 0.35;
  const double from = *g.corner_z > g.plate_high - kTipMm ? g.plate_high : *g.corner_z;
  const auto high = front_at(front, from - 0.2);
  const auto low = front_at(front, from - 1.0);
  if (high && low && cutter.outer_face_up) {
    // A front that hardly runs back is a broken one, or the gullet's ground: no chord of a hook.
    constexpr double kLeastUndercutMm = 0.15;
    if (*high - *low > kLeastUndercutMm) g.hook = std::atan2(0.8, *high - *low);
    // Each end of the chord is a median of a few crossings on a curved, often rough front; and the chord starts from a
    // corner whose height is read off a rounded, mirroring tip, on a front that bends with the file's radius.
    constexpr double kEndMm = 0.02;
    constexpr double kCornerHeightMm = 0.12;
    constexpr double kFileRadiusMm = 2.4;
    if (g.hook)
      g.u_hook = std::hypot(std::sqrt(2.0) * kEndMm * std::sin(*g.hook) / 0.8, kCornerHeightMm / kFileRadiusMm);
  }
}

/// Where a rear end that makes an outline ends, mm along the chain, and its standard uncertainty.
struct RearEnd {
  double x = 0;
  double u = 0;
};

/// The end leans by a few degrees either way, and its length counts where the plate's top ends: just under the rim's
/// rounding. in: places of the outline in the plane of the rim that makes it. fails (nothing): hardly any lie there.
std::optional<RearEnd> rear_end(const CutterGeometry& g, const std::vector<Point2>& outline, bool outer_face_up) {
  constexpr double kRoundedMm = 0.3;  // a rim is rounded by 0.1 to 0.35 mm (from memory)
  constexpr double kClearMm = 0.4;
  constexpr std::size_t kLeastPlaces = 3;
  constexpr std::size_t kLeastOutline = 5;
  // Seen from the inner side, what goes on under a plate of 0.9 to 1.6 mm is the side plate behind it.
  const double to_mm = outer_face_up ? std::numeric_limits<double>::infinity() : 1.1;
  constexpr double kULean = 0.1;     // tangent: several degrees either way (from memory)
  constexpr double kCorrelated = 4;  // neighbouring crossings share rows, as along the top
  constexpr double kLeastMm = 0.01;
  // The end's rim is rounded and mirrors the field, and its crossings share that: it does not average away (by
  // experiment: the length's errors in tests/accuracy).
  constexpr double kRimMm = 0.05;
  // Shavings stick to the end and stand back farther than any rim is rounded, and the end is seen over and under them.
  constexpr double kRimFromMm = 0.2;  // hardly any rounding is left there
  constexpr double kStuckMm = 0.3;
  constexpr double kSameEndMm = 0.15;
  Observations<2> all;
  Observations<2> seen;
  Observations<2> rim;
  std::vector<double> below;
  for (const Point2& p : outline) {
    const double under = g.plate_high - (g.plate_high_x - p.x()) * std::tan(g.slope) - p.y();
    all.add({1, under - kRoundedMm}, p.x());
    if (under > kClearMm && under < to_mm) seen.add({1, under - kRoundedMm}, p.x());
    if (under > kClearMm) below.push_back(p.x());
    if (under > kRimFromMm && under < kClearMm) rim.add({1, under - kRoundedMm}, p.x());
  }
  if (all.values.size() < kLeastOutline) return std::nullopt;
  // From far off the depths are those of another rim: what is left then is only how far its end may lean in between.
  if (seen.values.size() < kLeastPlaces) seen = std::move(all);
  Prior<2> prior;
  prior.u << std::numeric_limits<double>::infinity(), kULean;
  const auto fitted = [&](const Observations<2>& places) {
    return fit_with_prior(places, prior, {median(places.values), 0},
                          {.least_sigma = kLeastMm, .correlated = kCorrelated});
  };
  auto fit = fitted(seen);
  if (rim.values.size() >= 2 && median(rim.values) > fit.value[0] + kStuckMm) {
    const double end = median(rim.values);
    const auto under_them = std::ranges::count_if(below, [end](double x) { return std::abs(x - end) < kSameEndMm; });
    if (under_them >= static_cast<std::ptrdiff_t>(kLeastPlaces)) fit = fitted(rim);
  }
  return RearEnd{fit.value[0], std::max({kRimMm, 0.7 * fit.sigma, std::sqrt(fit.covariance(0, 0))})};
}

/// The rear end's two rims stand in line across the chain: the one that makes the outline hides the other, unless the
/// end's face looks like the field, which hides nothing.
void find_rear(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  if (cutter.rear.empty()) return;
  std::vector<Point2> hiding;
  std::vector<Point2> hidden;
  const double inwards = h.plate_inner > h.plate_outer ? 1 : -1;
  for (const EdgePoint& e : cutter.rear) {
    const SightLine line = frame.sight_line(e.px);
    const double behind = g.corner_x ? std::max(0.0, *g.corner_x - line.at(h.plate_outer).x()) : 0;
    const double drawn_in = inwards * h.taper * behind;
    Point2 outer = line.at(h.plate_outer + drawn_in);
    Point2 inner = line.at(h.plate_inner - drawn_in);
    if (outer.x() < inner.x()) std::swap(outer, inner);
    // Farther ahead the top itself was met, which looks like the field there.
    if (inner.x() > kMostRearAhead * g.rivet_distance) continue;
    hiding.push_back(outer);
    hidden.push_back(inner);
  }
  auto end = rear_end(g, hiding, cutter.outer_face_up);
  if (!end) return;
  if (const double chance = cutter.rear_near_rim; chance > 0) {
    const auto other = rear_end(g, hidden, cutter.outer_face_up);
    if (!other) return;
    const double apart = other->x - end->x;
    end->x += chance * apart;
    end->u = std::hypot(end->u, u_of_either(chance, apart));
  }
  g.rear_x = end->x;
  g.u_rear_x = end->u;
}

/// What was seen of the top, and whether that is its near rim, over which a top that looks like the field is seen.
struct SeenTopEdge {
  std::vector<SightLine> lines;  ///< rear to front
  bool near_rim = false;
};

/// The top's outline in the chain frame under one edge angle, and how it answers to it.
struct TopOutline {
  std::vector<Point2> points;      ///< each in the plane of the rim that makes it
  std::vector<Point2> by_tangent;  ///< derivative by the edge angle's tangent
};

TopOutline top_outline(const SeenTopEdge& top, const ProfileHeights& h, double shoulder, double corner_x,
                       double edge_tangent) {
  // Both rims stand equally high: the one that makes the outline hides the other, and its place is the lower one. A top
  // that looks like the field hides nothing, and the other rim is seen.
  TopOutline out;
  const double width = std::abs(h.plate_inner - h.plate_outer);
  const double inwards = h.plate_inner > h.plate_outer ? 1 : -1;
  for (const SightLine& line : top.lines) {
    const double behind = corner_x - line.at(h.plate_outer).x();
    const double drawn_in = h.taper * std::max(0.0, behind);
    const double near_side = shoulder + drawn_in;
    const double far_side = std::max(near_side, width - drawn_in);
    const Point2 outer = line.at(h.plate_outer + inwards * near_side);
    const Point2 per_mm = inwards * line.per_mm;
    if ((per_mm.y() >= 0) != top.near_rim) {
      out.points.push_back(outer);
      out.by_tangent.emplace_back(Point2::Zero());
      continue;
    }
    const double there = behind / edge_tangent;
    const bool on_edge = there > near_side && there < far_side;
    out.points.push_back(outer + (std::clamp(there, near_side, far_side) - near_side) * per_mm);
    out.by_tangent.push_back(on_edge ? Point2(-there / edge_tangent * per_mm) : Point2(Point2::Zero()));
  }
  return out;
}

/// How far over the top's line a part of its outline stands that does not belong to it, 0 where hardly any does. A top
/// is flat and has one outline: where steel mirrors the field, it may be that part which shows the plate's rim and the
/// rest a line within the mirror's image.
double second_level(const std::vector<Point2>& points, const PriorFit<3>& fit, const Eigen::Vector3d& value,
                    double middle) {
  constexpr double kLeastShare = 0.12;
  constexpr double kLeastMm = 0.08;  // twice what rims and their blur scatter an outline by (by experiment)
  std::vector<double> over;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const double above = points[i].y() - value[0] - value[1] * (points[i].x() - middle);
    if (fit.weights[i] < 0.1 && above > kLeastMm) over.push_back(above);
  }
  return over.size() < kLeastShare * static_cast<double>(points.size()) ? 0 : median(std::move(over));
}

/// How far a top's outline wanders about its line over stretches of it: dirt, or steel that mirrors the field in
/// places. It is not known which of them show the rim. Standard deviation of a place between the lower and the upper
/// quarter of stretches, all alike probable.
double u_wander(const std::vector<Point2>& points, const Eigen::Vector3d& value, double middle) {
  constexpr std::size_t kStretches = 16;
  const std::size_t each = points.size() / kStretches;
  if (each < 3) return 0;
  std::vector<double> levels;
  for (std::size_t from = 0; from + each <= points.size(); from += each) {
    std::vector<double> over;
    for (std::size_t i = from; i < from + each; ++i) {
      over.push_back(points[i].y() - value[0] - value[1] * (points[i].x() - middle));
    }
    levels.push_back(median(std::move(over)));
  }
  return (percentile(levels, 0.75) - percentile(levels, 0.25)) / 2 * kRectangular;
}

/// Line of the top plate; its highest point is taken where the outline leaves it in front. Where the edge's far part
/// makes the outline, the edge angle is told by the outline as well, from what is usual on.
bool find_plate(CutterGeometry& g, const SeenTopEdge& seen_top, const ProfileHeights& heights, double shoulder) {
  // Neighbouring crossings share rows, grain and dirt: so many of them count as one (by experiment: tests/measure).
  constexpr double kCorrelated = 8;
  constexpr double kLeastMm = 0.004;
  const double corner = g.corner_x.value_or(seen_top.lines.back().at(heights.plate_outer).x());
  double tangent = kEdgeTangent;
  TopOutline top = top_outline(seen_top, heights, shoulder, corner, tangent);
  const auto start = fit_line(top.points, {.loss = Loss::kTukey, .least_sigma = 0.003});
  if (!start.ok()) return false;
  const double middle = start->line.point.x();
  Eigen::Vector3d value(start->line.point.y(), start->line.direction.y() / start->line.direction.x(), 0);
  PriorFit<3> fit;
  for (int round = 0; round < 3; ++round) {
    if (round > 0) top = top_outline(seen_top, heights, shoulder, corner, tangent);
    Observations<3> seen;
    for (std::size_t i = 0; i < top.points.size(); ++i) {
      const Point2& p = top.points[i];
      const Point2& t = top.by_tangent[i];
      seen.add({1, p.x() - middle, value[1] * t.x() - t.y()}, p.y());
    }
    Prior<3> prior;
    prior.mean << 0, kUsualFall, kEdgeTangent - tangent;
    prior.u << std::numeric_limits<double>::infinity(), kUFall, kUEdgeTangent;
    value[2] = 0;
    fit = fit_with_prior(seen, prior, value, {.least_sigma = kLeastMm, .correlated = kCorrelated, .rounds = 8});
    value = fit.value;
    tangent = std::clamp(tangent + value[2], kEdgeTangent - 3 * kUEdgeTangent, kEdgeTangent + 3 * kUEdgeTangent);
  }
  double foremost = -1e9;
  for (std::size_t i = 0; i < top.points.size(); ++i) {
    if (fit.weights[i] > 0.3) foremost = std::max(foremost, top.points[i].x());
  }
  if (!(foremost > -1e9)) return false;
  // The outline's last stretch may be hidden, by a bevel that mirrors the field or by the slanting edge's inner end;
  // the flat top itself goes on to where the edge leaves it, on the corner or inside of its shoulder.
  if (g.corner_x) foremost = std::max(foremost, *g.corner_x - shoulder * tangent);
  const Eigen::Vector3d at(1, foremost - middle, 0);
  g.plate_high_x = foremost;
  g.plate_high = at.dot(value);
  g.slope = std::atan(value[1]);
  g.u_plate =
      std::hypot(std::sqrt(at.dot(fit.covariance * at)), second_level(top.points, fit, value, middle) * kRectangular,
                 u_wander(top.points, value, middle));
  g.u_slope = std::sqrt(fit.covariance(1, 1));
  return true;
}

/// Density of a normal distribution, without its constant factor.
double normal_density(double off, double u) { return std::exp(-0.5 * off * off / (u * u)) / u; }

/// Chance that a corner is a rounded one, by how the first millimetre of its front runs. A file leaves a front that
/// runs back as it goes down; on a rounded corner the same front comes forward at first, by what the slanting edge
/// regains on its way out to the side plate. A front that was misread runs anyhow: it decides nothing for certain.
double chance_of_rounded(const std::vector<EdgeRay>& front) {
  // A file of 4 to 5.5 mm, a fifth of which stands over the top plate (TRADE: MSA), seen along the card at 30 degrees
  // to its axis, runs back by 0.35 to 0.6 mm a millimetre, half a millimetre under the top.
  constexpr double kRunsBack = -0.45;
  constexpr double kURunsBack = 0.15;
  constexpr double kFromMm = 0.05;
  constexpr double kToMm = 1;
  constexpr double kLeastSpanMm = 0.4;
  constexpr double kCorrelated = 2;
  std::vector<Point2> points;
  for (const EdgeRay& e : front) {
    if (e.depth > kFromMm && e.depth < kToMm) points.emplace_back(e.depth, e.x);
  }
  std::sort(points.begin(), points.end(), [](const Point2& a, const Point2& b) { return a.x() < b.x(); });
  constexpr double kEven = 0.5;
  if (points.size() < 5 || points.back().x() - points.front().x() < kLeastSpanMm) return kEven;
  const auto line = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 0.02, .ordered = true});
  if (!line.ok()) return kEven;
  const Point2 along = line->line.direction;
  const double slope = along.y() / std::max(0.05, std::abs(along.x())) * (along.x() < 0 ? -1 : 1);
  const double u = std::sqrt(kCorrelated) * line->u_angle_rad() * (1 + slope * slope);
  // The rounded corner's way forward between the ends of what is seen, for usual radii.
  const double from = points.front().x();
  const double to = points.back().x();
  const auto forward = [&](double radius) {
    return kEdgeTangent * (inside_face(radius, from) - inside_face(radius, to)) / (to - from);
  };
  const double usual = forward(kUsualShoulderMm);
  const double spread =
      (forward(kUsualShoulderMm + kUUsualShoulderMm) - forward(kUsualShoulderMm - kUUsualShoulderMm)) / 2;
  const double u_chisel = std::hypot(kURunsBack, u);
  const double misread = kMisread * std::sqrt(2 * M_PI) / 2;  // at any slope from -1 to 1
  const double chisel = (1 - kMisread) * normal_density(slope - kRunsBack, u_chisel) + misread;
  const double rounded =
      (1 - kMisread) * normal_density(slope - kRunsBack - usual, std::hypot(u_chisel, spread)) + misread;
  return rounded / (rounded + chisel);
}

/// A shoulder that does not show by how far the foremost point stands under the top.
struct ShortShoulder {
  double chance = 0;     ///< that there is one
  double radius_mm = 0;  ///< if so
  double u_radius_mm = 0;
};

/// How the front runs tells a shoulder's chance, and so does the depth of its foremost point. A chisel's stands within a
/// few tenths of the top. On an arc of radius R it stands where the slanting edge regains on its way out what the front
/// runs back: for radii of 1.5 mm (standard deviation 0.4), fronts that run back by 0.45 (0.15) a millimetre and edge
/// angles of 30 degrees (4) that is 0.6 mm (0.27) under the top, in 70 % of all cases less than a told shoulder, and
/// the expected radius for a given depth between 0.1 and 0.6 mm is 0.8 mm and 1.3 times the depth (0.32). Computed by
/// sampling these.
ShortShoulder short_shoulder(const CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter,
                             const ProfileHeights& heights) {
  constexpr double kChiselMm = 0.12;
  constexpr double kRoundedMm = 0.6;
  constexpr double kURoundedMm = 0.27;
  constexpr double kShareShort = 0.7;
  const double chance = chance_of_rounded(front_rays(frame, cutter, heights, g.plate_high));
  const auto foremost = undercut_corner(in_frame(frame, cutter.front, heights.plate_outer), g.plate_high);
  if (!foremost) return {chance, kUsualShoulderMm, kUUsualShoulderMm};
  const double under = std::max(0.0, g.plate_high - foremost->at.y());
  const double misread = kMisread * std::sqrt(2 * M_PI) / kLeastShoulderMm;
  const double chisel = (1 - kMisread) * 2 * normal_density(under, kChiselMm) + misread;
  const double rounded = (1 - kMisread) * normal_density(under - kRoundedMm, kURoundedMm) / kShareShort + misread;
  const double odds = rounded / chisel * chance / (1 - chance);
  return {odds / (1 + odds), std::min(kUsualShoulderMm, 0.8 + 1.3 * under), 0.32};
}

/// Where no sheet says that the corner is a chisel's, the plate's highest point lies as far behind it as its shoulder
/// is seen to reach. The foremost point of a small shoulder stands high up on its arc, and under a bevel that mirrors
/// the field hardly any of the front is seen: where no shoulder shows, both kinds of corner are weighed, and the place
/// between them is taken.
bool settle_shoulder(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const SeenTopEdge& top,
                     const ProfileHeights& heights) {
  if (const double shoulder = shoulder_of(g); shoulder > 0) {
    CutterGeometry moved = g;
    if (!find_plate(g, top, heights, shoulder)) return false;
    if (!find_plate(moved, top, heights, shoulder + g.u_corner_z)) return false;
    g.u_plate = std::hypot(g.u_plate, moved.plate_high - g.plate_high);
    g.chance_of_shoulder = 1;
    g.shoulder_mm = shoulder_of(g);
    return true;
  }
  const ShortShoulder shoulder = short_shoulder(g, frame, cutter, heights);
  CutterGeometry rounded = g;
  if (!find_plate(rounded, top, heights, shoulder.radius_mm)) return true;
  const double chance = heights.chisel ? 1 : shoulder.chance;
  const double apart = rounded.plate_high - g.plate_high;
  const double u_apart = apart * shoulder.u_radius_mm / shoulder.radius_mm;
  g.plate_high += chance * apart;
  g.u_plate = std::hypot(g.u_plate, u_of_either(chance, apart), std::sqrt(chance) * u_apart);
  g.chance_of_shoulder = chance;
  g.shoulder_mm = chance * shoulder.radius_mm;
  return true;
}

/// Flanks and tip of the outline at the working corner: the top's line against a line through the front from 0.15 to
/// 0.6 mm under it, outside the rounding.
void find_tip(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const SeenTopEdge& top,
              const ProfileHeights& h) {
  if (!cutter.outer_face_up || !g.corner_z || g.plate_high - *g.corner_z > 0.3) return;
  std::vector<Point2> flank;
  std::vector<Point2> all = in_frame(frame, cutter.front, h.plate_outer);
  for (const Point2& p : all) {
    const double under = g.plate_high - p.y();
    if (under > 0.15 && under < 0.6) flank.push_back(p);
  }
  const auto front = fit_line(flank, {.loss = Loss::kTukey, .least_sigma = 0.003, .ordered = true});
  if (!front.ok()) return;
  const Point2 back(-std::cos(g.slope), -std::sin(g.slope));
  Point2 down = front->line.direction;
  if (down.y() > 0) down = -down;
  const Point2 on_top(g.plate_high_x, g.plate_high);
  const double cross = back.x() * down.y() - back.y() * down.x();
  if (std::abs(cross) < 0.2) return;
  const Point2 between = front->line.point - on_top;
  const Point2 meeting = on_top + back * ((between.x() * down.y() - between.y() * down.x()) / cross);
  const Point2 bisector = (back + down).normalized();
  for (const SightLine& line : top.lines) all.push_back(line.at(h.plate_outer));
  // The outline's points that lie within a twentieth of a millimetre of the bisector, taken along it.
  std::vector<double> along;
  for (const Point2& p : all) {
    const Point2 d = p - meeting;
    const double aside = std::abs(d.x() * bisector.y() - d.y() * bisector.x());
    if (aside < 0.05 && std::abs(d.dot(bisector)) < 0.6) along.push_back(d.dot(bisector));
  }
  if (along.empty()) return;
  CornerShape tip;
  tip.wedge_rad = std::acos(std::clamp(back.dot(down), -1.0, 1.0));
  tip.recession = median(along);
  tip.u_recession = std::hypot(front->u_at(meeting), g.u_plate) / std::sin(tip.wedge_rad / 2);
  g.tip = tip;
}

/// The gauge's highest point where each of its outline's points is taken for the rim that `outer` says.
std::optional<Highest> top_of_gauge(const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h,
                                    const std::function<bool(const Point2&)>& outer) {
  std::vector<Point2> rim;
  for (const EdgePoint& e : cutter.gauge) rim.push_back(higher_rim(frame, e.px, h, outer(e.px)));
  return highest(crest_of(std::move(rim)));
}

/// Top of the depth gauge. Where its outline may be the near rim of a top that looks like the field, both readings are
/// weighed by their chances.
bool find_gauge(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter, const ProfileHeights& h) {
  auto top = top_of_gauge(frame, cutter, h, [&](const Point2& px) { return outer_rim_outlines(frame, px, h); });
  if (!top) return false;
  if (const double chance = cutter.gauge_near_rim; chance > 0) {
    const auto near = top_of_gauge(frame, cutter, h, [&](const Point2&) { return h.gauge_outer > h.gauge_inner; });
    if (!near) return false;
    const Point2 apart = near->at - top->at;
    top->at += chance * apart;
    top->u = std::hypot(top->u, u_of_either(chance, apart.y()));
  }
  g.gauge_high = top->at.y();
  g.gauge_high_x = top->at.x();
  g.u_gauge = top->u;
  return true;
}

/// The drop as steel's own light tells it. The highest running median of the gauge's places is its top: they are too
/// few for a curve.
void find_own_light_drop(CutterGeometry& g, const ChainFrame& frame, const CutterOutline& cutter,
                         const ProfileHeights& h) {
  constexpr std::size_t kLeastTop = 5;
  constexpr std::size_t kLeastGauge = 3;
  constexpr std::size_t kBeside = 2;
  if (!cutter.outer_face_up || cutter.top_own_light.size() < kLeastTop || cutter.gauge_own_light.size() < kLeastGauge) {
    return;
  }
  const double inwards = h.plate_inner > h.plate_outer ? 1 : -1;
  const auto top = fit_line(in_frame(frame, cutter.top_own_light, h.plate_outer + inwards * g.shoulder_mm),
                            {.loss = Loss::kTukey, .least_sigma = 0.01});
  if (!top.ok()) return;
  const Point2 along = top->line.direction;
  const double top_z = top->line.point.y() + (g.plate_high_x - top->line.point.x()) * along.y() / along.x();
  const std::vector<Point2> gauge = in_frame(frame, cutter.gauge_own_light, h.gauge_outer);
  double gauge_z = -std::numeric_limits<double>::infinity();
  for (std::size_t k = 0; k < gauge.size(); ++k) {
    std::vector<double> near;
    for (std::size_t i = k - std::min(k, kBeside); i < std::min(gauge.size(), k + kBeside + 1); ++i) {
      near.push_back(gauge[i].y());
    }
    gauge_z = std::max(gauge_z, median(std::move(near)));
  }
  g.own_light_drop = top_z - gauge_z;
}

}  // namespace

ChainFrame::ChainFrame(const CameraView& view, const CutterOutline& cutter, const ProfileHeights& heights)
    : view_(view), origin_(view.at_height(cutter.rear_rivet.centre_px, heights.rivets)) {
  const Point2 along = view.at_height(cutter.front_rivet.centre_px, heights.rivets) - origin_;
  rivet_distance_ = along.norm();
  along_ = along / rivet_distance_;
  up_ = turned_quarter(along_);
  const Point2 top = cutter.top.empty() ? cutter.gauge.front().px : cutter.top.front().px;
  if ((view.at_height(top, heights.plate_outer) - origin_).dot(up_) < 0) up_ = -up_;
}

SightLine ChainFrame::sight_line(const Point2& px) const {
  const Point2 foot = view_.at_height(px, 0);
  const Point2 eye = view_.eye().head<2>();
  // From its foot on it runs straight to the eye.
  const Point2 per_mm = (eye - foot) / -view_.eye().z();
  const Point2 d = foot - origin_;
  return {{d.dot(along_), d.dot(up_)}, {per_mm.dot(along_), per_mm.dot(up_)}};
}

Point2 ChainFrame::pixel(const Point2& x_z, double height_mm) const {
  const Point2 p = origin_ + x_z.x() * along_ + x_z.y() * up_;
  return view_.pixel({p.x(), p.y(), -height_mm});
}

namespace {

/// `near_rim`: bare steel begins at the top's near rim.
std::optional<CutterGeometry> geometry_as_read(const CameraView& view, const CutterOutline& cutter,
                                               const ProfileHeights& heights, bool near_rim) {
  const std::vector<EdgePoint>& outline = near_rim ? cutter.top_bare : cutter.top;
  if (outline.size() < 8 || cutter.gauge.size() < 8) return std::nullopt;
  const ChainFrame frame(view, cutter, heights);
  SeenTopEdge top{{}, near_rim};
  for (const EdgePoint& e : outline) top.lines.push_back(frame.sight_line(e.px));
  CutterGeometry g;
  g.rivet_distance = frame.rivet_distance();
  const double px = view.mm_per_px(cutter.rear_rivet.centre_px, heights.rivets);
  g.u_rivet_line = std::hypot(cutter.rear_rivet.u_px, cutter.front_rivet.u_px) * px / g.rivet_distance;
  // The plate's rims depend on where the corner is, the corner's place on the plate's height: two rounds settle both.
  if (!find_plate(g, top, heights, 0)) return std::nullopt;
  find_front(g, frame, cutter, heights);
  if (!find_plate(g, top, heights, 0)) return std::nullopt;
  if (!heights.chisel.value_or(false) && !settle_shoulder(g, frame, cutter, top, heights)) return std::nullopt;

  g.beyond_top = (heights.plate_outer - heights.plate_inner) * top.lines[top.lines.size() / 2].per_mm.y();
  find_rear(g, frame, cutter, heights);
  find_tip(g, frame, cutter, top, heights);
  if (!find_gauge(g, frame, cutter, heights)) return std::nullopt;
  find_own_light_drop(g, frame, cutter, heights);
  return g;
}

}  // namespace

std::optional<CutterGeometry> cutter_geometry(const CameraView& view, const CutterOutline& cutter,
                                              const ProfileHeights& heights) {
  const double chance = cutter.top_near_rim;
  if (!(chance > 0) || !(chance < 1)) return geometry_as_read(view, cutter, heights, chance > 0);
  // Where bare steel may begin at the near rim of a top that looks like the field, both readings are weighed.
  const auto far = geometry_as_read(view, cutter, heights, false);
  const auto near = geometry_as_read(view, cutter, heights, true);
  if (!far || !near) return far ? far : near;
  const double apart = near->plate_high - far->plate_high;
  CutterGeometry g = chance > 0.5 ? *near : *far;
  g.plate_high = far->plate_high + chance * apart;
  g.u_plate = std::hypot(g.u_plate, u_of_either(chance, apart));
  return g;
}

}  // namespace glintline
