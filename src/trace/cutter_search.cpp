#include "trace/cutter_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

namespace glintline {

namespace {

/// Least margin, in pitches, by which plate and gauge must stand over gullet and surroundings: 0.8 mm on 3/8 in chain,
/// several times what rough outlines and shadows move.
constexpr double kLeastMargin = 0.07;
/// Top plates stand at least this high over the rivet line, in pitches; tie straps reach about 0.3.
constexpr double kLeastHeight = 0.42;
/// A gauge stands lower than its plate by its drop: about a fifteenth of a pitch, a twelfth is much (common practice,
/// no source).
constexpr double kLeastGaugeHeight = kLeastHeight - 1.0 / 12;
/// Cutters are at least two links apart, each link two pitches (common practice); less than that is one cutter twice.
constexpr int kApart = 3;

constexpr double kUnknown = std::numeric_limits<double>::quiet_NaN();

/// Height of the silhouette over the line from `from` by `along` and `up` (unit vectors), in steps of half a pixel:
/// the end of the solid stretch that starts at the line, short gaps allowed. NaN where it leaves the field.
double silhouette(const cv::Mat& solid, const Point2& foot, const Point2& up, double pitch) {
  int gap = 0;
  double height = 0;
  // 0.2 pitches over the rivet line every link is solid; twice the pitch is beyond any cutter.
  for (double z = 0.2 * pitch; z < 1.4 * pitch; z += 0.5) {
    const Point2 p = foot + z * up;
    const int x = static_cast<int>(std::lround(p.x()));
    const int y = static_cast<int>(std::lround(p.y()));
    if (x < 0 || y < 0 || x >= solid.cols || y >= solid.rows) return kUnknown;
    const uchar s = solid.at<uchar>(y, x);
    if (s == 128) return kUnknown;
    gap = s ? 0 : gap + 1;
    if (s) height = z;
    if (gap > 5) return height;
  }
  return height;
}

/// One link position as a candidate cutter.
struct Candidate {
  Point2 rear;
  Point2 along;  ///< rear to front, one pitch long
  Point2 up;     ///< unit
};

struct Band {
  double low = kUnknown;
  double lowest_at = kUnknown;
  double high = kUnknown;
  int known = 0;
  int all = 0;
};

Band band(const cv::Mat& solid, const Candidate& c, double from, double to) {
  const double pitch = c.along.norm();
  Band b;
  for (double u = from; u <= to + 1e-9; u += 0.025) {
    ++b.all;
    const double z = silhouette(solid, c.rear + u * c.along, c.up, pitch) / pitch;
    if (std::isnan(z)) continue;
    if (!b.known || z < b.low) {
      b.low = z;
      b.lowest_at = u;
    }
    b.high = b.known ? std::max(b.high, z) : z;
    ++b.known;
  }
  return b;
}

/// What a place says for itself.
struct Fit {
  double margin = 0;   ///< by how much plate and gauge stand out, pitches
  double forward = 0;  ///< evidence that the plate is the plate and the gauge the gauge, and not the other way round
};

/// Area of the silhouette over `floor` between two places of the row, square pitches.
double area_over(const cv::Mat& solid, const Candidate& c, double from, double to, double floor) {
  const double pitch = c.along.norm();
  double sum = 0;
  for (double u = from; u <= to; u += 0.025) {
    const double z = silhouette(solid, c.rear + u * c.along, c.up, pitch) / pitch;
    if (z > floor) sum += 0.025 * (z - floor);
  }
  return sum;
}

/// A top plate is the larger of the two and stands higher, by the gauge drop (common practice, no source: an eighth to
/// a fifteenth of a pitch and never less than nothing). They part where the gullet is lowest: a plate reaches far into
/// what would be the gauge's half were the chain running the other way.
double forward_evidence(const cv::Mat& solid, const Candidate& c, const Band& gullet) {
  const double plate_area = area_over(solid, c, -0.6, gullet.lowest_at, gullet.low);
  const double gauge_area = area_over(solid, c, gullet.lowest_at, 1.6, gullet.low);
  const double larger = (plate_area - gauge_area) / std::max(1e-9, plate_area + gauge_area);
  const double plate_high = band(solid, c, -0.45, gullet.lowest_at).high;
  const double gauge_high = band(solid, c, gullet.lowest_at, 1.4).high;
  return larger + std::clamp((plate_high - gauge_high) / 0.1, -1.0, 1.0);
}

/// How well the pattern holds at this place, or nothing where it does not or too little of it is seen.
std::optional<Fit> fit_of(const cv::Mat& solid, const Candidate& c) {
  const Band plate = band(solid, c, -0.35, 0.0);
  const Band gauge = band(solid, c, 0.95, 1.4);
  if (plate.known * 2 < plate.all || gauge.known * 2 < gauge.all) return std::nullopt;
  if (!(plate.high > kLeastHeight) || !(gauge.high > kLeastGaugeHeight)) return std::nullopt;
  const Band gullet = band(solid, c, 0.1, 0.95);
  if (gullet.known * 2 < gullet.all) return std::nullopt;
  double margin = std::min(plate.high, gauge.high) - gullet.low;
  const Band ahead = band(solid, c, 1.5, 1.75);
  const Band behind = band(solid, c, -0.75, -0.5);
  // Outside the field nothing is known of them, and nothing held against the place.
  if (ahead.known) margin = std::min(margin, gauge.high - ahead.low);
  if (behind.known) margin = std::min(margin, plate.high - behind.low);
  if (!(margin > kLeastMargin)) return std::nullopt;
  return Fit{margin, forward_evidence(solid, c, gullet)};
}

/// A pattern and the evidence for its direction.
struct Weighed {
  CutterPattern pattern;
  double evidence = 0;
};

Weighed pattern_of(const cv::Mat& solid, const RivetRow& row, bool up_is_left, bool runs_back) {
  CutterPattern pattern{up_is_left, runs_back, {}};
  const int count = static_cast<int>(row.centres.size());
  for (int i = 0; i + 1 < count; ++i) {
    const int rear = runs_back ? i + 1 : i;
    const int front = runs_back ? i : i + 1;
    // A head that could not be confirmed leaves a gap: what stands on either side of it is no link.
    if ((row.centres[front] - row.centres[rear]).norm() > 1.3 * row.spacing) continue;
    Candidate c;
    c.rear = row.centres[rear];
    c.along = row.centres[front] - row.centres[rear];
    const Point2 right = turned_quarter((row.centres[i + 1] - row.centres[i]).normalized());
    c.up = up_is_left ? Point2(-right) : right;
    if (const auto fit = fit_of(solid, c)) {
      pattern.places.push_back({rear, front, fit->margin, fit->forward});
    }
  }
  std::sort(pattern.places.begin(), pattern.places.end(),
            [](const CutterPlace& a, const CutterPlace& b) { return a.clarity > b.clarity; });
  std::vector<CutterPlace> apart;
  for (const CutterPlace& p : pattern.places) {
    const bool free = std::all_of(apart.begin(), apart.end(),
                                  [&](const CutterPlace& q) { return std::abs(p.rear - q.rear) >= kApart; });
    if (free) apart.push_back(p);
  }
  std::sort(apart.begin(), apart.end(),
            [&](const CutterPlace& a, const CutterPlace& b) { return runs_back ? a.rear > b.rear : a.rear < b.rear; });
  pattern.places = std::move(apart);
  double evidence = 0;
  for (const CutterPlace& p : pattern.places) evidence += p.clarity * p.forward;
  return {pattern, evidence};
}

}  // namespace

bool may_hold_cutters(const cv::Mat& solid, const RivetRow& row) {
  // Coarse centres lie up to half a millimetre off (by experience).
  constexpr double kOffPitches = 0.07;
  const double off = kOffPitches * row.spacing;
  for (const Point2& moved : {Point2(0, 0), Point2(off, 0), Point2(-off, 0), Point2(0, off), Point2(0, -off)}) {
    RivetRow tried = row;
    for (Point2& centre : tried.centres) centre += moved;
    for (const bool up_is_left : {false, true}) {
      for (const bool runs_back : {false, true}) {
        if (!pattern_of(solid, tried, up_is_left, runs_back).pattern.places.empty()) return true;
      }
    }
  }
  return false;
}

std::vector<CutterPattern> find_cutters(const cv::Mat& solid, const RivetRow& row) {
  // Two tangs, or a plate beside a tang, are about alike (0.08 at the most); a worn-out plate beside a gauge that still
  // stands high reaches 0.17, most cutters 0.5 and more (by experiment: tests/trace, tests/accuracy).
  constexpr double kLeastForward = 0.12;
  constexpr double kAlmostAsLikely = 0.5;
  std::array<Weighed, 2> sides;  // up to the right of the row, and to its left
  for (const bool up_is_left : {false, true}) {
    for (const bool runs_back : {false, true}) {
      Weighed weighed = pattern_of(solid, row, up_is_left, runs_back);
      Weighed& best = sides[up_is_left ? 1 : 0];
      if (weighed.evidence > best.evidence) best = std::move(weighed);
    }
  }
  if (sides[1].evidence > sides[0].evidence) std::swap(sides[0], sides[1]);
  std::vector<CutterPattern> likely;
  for (Weighed& side : sides) {
    if (side.evidence <= kAlmostAsLikely * sides[0].evidence) continue;
    std::erase_if(side.pattern.places, [](const CutterPlace& place) { return !(place.forward >= kLeastForward); });
    if (!side.pattern.places.empty()) likely.push_back(std::move(side.pattern));
  }
  return likely;
}

}  // namespace glintline
