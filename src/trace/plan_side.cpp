#include "trace/plan_side.h"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <optional>

#include "math/statistics.h"
#include "trace/plan_light.h"
#include "trace/plan_rim.h"

namespace glintline {

namespace {

constexpr double kStepPx = 0.5;   ///< between samples of a profile
constexpr double kStationPx = 3;  ///< between profiles
constexpr int kAcross = 3;        ///< parallel profiles averaged, a pixel apart
constexpr int kSpan = 2;          ///< samples to either side over which a change is taken
/// Largest tilt against the coarse line, as displacement of the ends in samples.
constexpr int kMostTilt = 12;
constexpr int kAskew = 2;  ///< most tilt of a rim's outline against its strongest step
constexpr int kNear = 4;   ///< samples around the line that belong to its step

/// Change per pixel of square-root light: rows are stations, columns offsets outward.
struct ChangeMap {
  Eigen::MatrixXd change;
  std::vector<Point2> at;  ///< middle of every station
};

/// Square roots of linear light along the outward normal; empty outside the picture.
std::vector<cv::Vec3f> profile(const cv::Mat& bgr, const Point2& at, const SideSearch& search, const Point2& along) {
  const int half = static_cast<int>(search.reach_px / kStepPx);
  std::vector<cv::Vec3f> out(2 * half + 1, cv::Vec3f(0, 0, 0));
  for (int k = -half; k <= half; ++k) {
    cv::Vec3f sum(0, 0, 0);
    for (int m = 0; m < kAcross; ++m) {
      const Point2 p = at + k * kStepPx * search.outward + (m - kAcross / 2) * along;
      if (!inside(bgr, p.x(), p.y())) return {};
      sum += linear_at(bgr, p.x(), p.y());
    }
    for (int c = 0; c < 3; ++c) out[k + half][c] = std::sqrt(sum[c] / kAcross);
  }
  return out;
}

ChangeMap change_map(const cv::Mat& bgr, const SideSearch& search) {
  const Point2 along = (search.to - search.from).normalized();
  const double length = (search.to - search.from).norm();
  std::vector<std::vector<cv::Vec3f>> profiles;
  ChangeMap out;
  for (double s = kStationPx; s < length - kStationPx; s += kStationPx) {
    std::vector<cv::Vec3f> values = profile(bgr, search.from + s * along, search, along);
    if (values.size() <= 2 * kSpan) continue;
    out.at.push_back(search.from + s * along);
    profiles.push_back(std::move(values));
  }
  const std::size_t cols = profiles.empty() ? 0 : profiles[0].size();
  out.change = Eigen::MatrixXd::Zero(profiles.size(), cols);
  for (std::size_t r = 0; r < profiles.size(); ++r) {
    for (std::size_t k = kSpan; k + kSpan < cols; ++k) {
      const cv::Vec3f d = profiles[r][k + kSpan] - profiles[r][k - kSpan];
      out.change(r, k) = std::sqrt(d.dot(d)) / (2 * kSpan * kStepPx);
    }
  }
  return out;
}

/// Column of a tilted line at a row.
int tilted(int column, int tilt, int row, int rows) {
  return column + static_cast<int>(std::floor(2.0 * tilt * (row - rows / 2.0) / rows + 0.5));
}

/// Mean change along the lines of one tilt, single strong places limited to `cap`.
Eigen::VectorXd stacked(const Eigen::MatrixXd& change, int tilt, double cap) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(change.cols());
  for (int r = 0; r < change.rows(); ++r) {
    for (int k = 0; k < change.cols(); ++k) {
      const int c = tilted(k, tilt, r, static_cast<int>(change.rows()));
      if (c >= 0 && c < change.cols()) out[k] += std::min(cap, change(r, c));
    }
  }
  return out / change.rows();
}

struct SideLine {
  int column = -1;
  int tilt = 0;
  double beyond = 0;      ///< samples by which the outline lies outside the column
  double half_range = 0;  ///< samples within which it may lie to either side of there
};

/// Stacked changes of every tilt, and what they are where nothing lies.
struct Stack {
  std::vector<Eigen::VectorXd> change;
  std::vector<double> base;

  /// Over the base; `tilt` counts from 0.
  [[nodiscard]] double over(int tilt, int column) const { return change[tilt][column] - base[tilt]; }
  [[nodiscard]] bool crest(int tilt, int column) const {
    const Eigen::VectorXd& v = change[tilt];
    return v[column] >= v[column - 1] && v[column] >= v[column + 1];
  }
};

Stack stack_tilts(const Eigen::MatrixXd& change) {
  const double cap = percentile(std::vector<double>(change.data(), change.data() + change.size()), 0.97);
  Stack out;
  for (int tilt = -kMostTilt; tilt <= kMostTilt; ++tilt) {
    out.change.push_back(stacked(change, tilt, cap));
    const Eigen::VectorXd& v = out.change.back();
    out.base.push_back(median(std::vector<double>(v.data(), v.data() + v.size())));
  }
  return out;
}

/// Eighths of the side along which a step at `column` of the stack, `height` over what changes where nothing lies,
/// shows. A rim's shows along most of them; the ends of links behind a plate show behind parts of it.
int eighths_shown(const Eigen::MatrixXd& change, int tilt, int column, double base, double height) {
  constexpr int kPieces = 8;
  constexpr double kLeastHeight = 0.3;  // of the stacked step
  const int rows = static_cast<int>(change.rows());
  int shown = 0;
  for (int piece = 0; piece < kPieces; ++piece) {
    double sum = 0;
    int count = 0;
    for (int r = piece * rows / kPieces; r < (piece + 1) * rows / kPieces; ++r) {
      const int middle = tilted(column, tilt, r, rows);
      for (int c = std::max(0, middle - 1); c <= middle + 1 && c < change.cols(); ++c, ++count) sum += change(r, c);
    }
    shown += count > 0 && sum / count > base + kLeastHeight * height ? 1 : 0;
  }
  return shown;
}

/// Outermost clear crest, no nearer to either end than `margin` samples, that shows along `eighths` of the side. A
/// rim's rounding makes a band of even width beside the flat: its outline runs parallel to its strongest step, and a
/// line aslant from the one to the other is neither.
SideLine outermost_crest(const Eigen::MatrixXd& change, const Stack& stack, const SideSearch& search, int margin,
                         int eighths) {
  const int tilts = static_cast<int>(stack.change.size());
  const int columns = static_cast<int>(change.cols());
  double most = 0;
  int strongest = kMostTilt;
  for (int t = 0; t < tilts; ++t) {
    const double over = stack.change[t].segment(margin, columns - 2 * margin).maxCoeff() - stack.base[t];
    if (over <= most) continue;
    most = over;
    strongest = t;
  }
  SideLine best;
  double height = 0;
  for (int t = std::max(0, strongest - kAskew); t <= std::min(tilts - 1, strongest + kAskew); ++t) {
    for (int k = columns - 2 - kSpan - margin; k > kSpan + margin; --k) {
      const double over = stack.over(t, k);
      if (over < search.clear_share * most || !stack.crest(t, k)) continue;
      if (eighths > 0 && eighths_shown(change, t - kMostTilt, k, stack.base[t], over) < eighths) continue;
      // Further out wins; within the reach of one step, the higher crest does.
      if (k > best.column + kNear || (k >= best.column - kNear && over > height)) {
        best = {k, t - kMostTilt, 0};
        height = over;
      }
      break;
    }
  }
  return best;
}

/// Of a rounding the part whose normal leans more than 45 degrees mirrors what lies below, (1 - sin 45°) r, and ends in
/// the outline; a pixel more for the steps' places. A second step farther out is as often a shadow's end or the next
/// part's (`plan-chip-9609`, `9619`), unless the first one ends a lamp's image, which may end anywhere on the rounding.
double widest_mirror_px(const SideSearch& search) { return (1 - 0.70710678) * search.rim_px + 1; }

/// The outline's line: the outermost clear crest, and of a rear end the outline of its rim.
SideLine outermost_line(const Eigen::MatrixXd& change, const SideSearch& search, int margin) {
  // Of a rim's outline a part may be lost against what lies behind it.
  constexpr int kMostEighths = 6;
  const Stack stack = stack_tilts(change);
  SideLine best;
  if (search.rounded_rim) best = outermost_crest(change, stack, search, margin, kMostEighths);
  if (best.column < 0) best = outermost_crest(change, stack, search, margin, 0);
  if (!search.rounded_rim || best.column < 0) return best;
  // A doubtful second step: half-way, and either of both may be the outline.
  const Eigen::VectorXd& stacked_change = stack.change[best.tilt + kMostTilt];
  const auto second = second_step(stacked_change, best.column);
  if (!second) return best;
  const int column =
      std::min(static_cast<int>(change.cols()) - 1, best.column + static_cast<int>(std::lround(second->apart)));
  const double base = stack.base[best.tilt + kMostTilt];
  if (eighths_shown(change, best.tilt, column, base, stacked_change[column] - base) < kMostEighths) return best;
  const bool doubtful = second->doubtful || second->apart * kStepPx > widest_mirror_px(search);
  best.beyond = doubtful ? second->apart / 2 : second->apart;
  if (doubtful) best.half_range = second->apart / 2;
  return best;
}

/// Centres of gravity of the change near the line, row by row, where it stands out.
std::vector<Point2> points_on(const ChangeMap& map, const SideLine& line, const SideSearch& search) {
  std::vector<Point2> out;
  const int rows = static_cast<int>(map.change.rows());
  const int half = static_cast<int>(search.reach_px / kStepPx);
  const double usual = median(std::vector<double>(map.change.data(), map.change.data() + map.change.size()));
  for (int r = 0; r < rows; ++r) {
    const int centre = tilted(line.column, line.tilt, r, rows);
    if (centre < kNear || centre + kNear >= map.change.cols()) continue;
    double weight = 0;
    double moment = 0;
    for (int k = -kNear; k <= kNear; ++k) {
      const double over = std::max(0.0, map.change(r, centre + k) - usual);
      weight += over;
      moment += over * k;
    }
    if (weight < 4 * usual) continue;
    out.push_back(map.at[r] + (centre + moment / weight + line.beyond - half) * kStepPx * search.outward);
  }
  return out;
}

/// True where most of the points part a lamp's mirror image from what is none. On a rim's bend that is a narrow line.
bool ends_flash(const cv::Mat& bgr, const std::vector<Point2>& points, const SideSearch& search) {
  constexpr int kBesidePx = 4;  // past the blur
  std::size_t count = 0;
  for (const Point2& p : points) {
    const Point2 in = p - kBesidePx * search.outward;
    const Point2 out = p + kBesidePx * search.outward;
    if (!inside(bgr, in.x(), in.y()) || !inside(bgr, out.x(), out.y())) continue;
    bool flashes = false;
    for (int k = 1; k <= kBesidePx && !flashes; ++k) {
      const Point2 at = p - k * search.outward;
      flashes = linear_at(bgr, at.x(), at.y())[1] > search.flash;
    }
    count += flashes && linear_at(bgr, out.x(), out.y())[1] < search.flash ? 1 : 0;
  }
  return 2 * count > points.size();
}

/// A crest behind a dip.
struct SecondCrest {
  int column = -1;
  double height = 0;
  double first = 0;  ///< the crest before the dip
  double dip = 0;
};

/// Strongest crest behind the first dip outwards from the crest at `from`, up to `to`.
SecondCrest crest_beyond_dip(const Eigen::VectorXd& v, int from, int to) {
  SecondCrest out;
  Eigen::Index top = 0;
  out.first = v.segment(from - kNear, 2 * kNear + 1).maxCoeff(&top);
  int dip = from - kNear + static_cast<int>(top);
  while (dip < to && v[dip + 1] <= v[dip]) ++dip;
  for (int k = dip + 1; k <= to; ++k) {
    if (v[k] < v[k - 1] || v[k] < v[k + 1] || v[k] <= out.height) continue;
    out.column = k;
    out.height = v[k];
    out.dip = v.segment(dip, k - dip).minCoeff();
  }
  return out;
}

/// How well a crest is told from what lies further out and from the dip before it.
enum class Told { kNot, kDoubtful, kClearly };

/// `far`: from here on outwards lies what is beyond any rim.
Told told(const SecondCrest& crest, const Eigen::VectorXd& v, int far) {
  constexpr double kClear = 7;          // standard deviations of the change further out
  constexpr double kLeastHeight = 0.1;  // of the first: cameras' sharpening puts halos beside a strong step
  constexpr double kOverAny = 1.3;      // of the highest change further out: links, and the gaps between them
  constexpr double kLeastDip = 0.25;
  std::vector<double> rest(v.data() + far, v.data() + v.size() - kSpan - kAskew);
  const double highest = *std::max_element(rest.begin(), rest.end());
  const double base = median(rest);
  for (double& r : rest) r = std::abs(r - base);
  const double noise = kMadToSigma * median(rest);
  if (!(crest.height - base > kLeastHeight * (crest.first - base))) return Told::kNot;
  if (crest.height - crest.dip > kClear * noise) return Told::kClearly;
  const bool possible = crest.height > kOverAny * highest && crest.height - crest.dip > kLeastDip * crest.height;
  return possible ? Told::kDoubtful : Told::kNot;
}

/// Outline of a rim beyond the end of a lamp's mirror image: the strongest line outside that end and parallel to it,
/// within the rim's width. The end is the strongest step by far and says little of how strong the outline is. Where the
/// line is doubtful, half-way to it; nothing where no line stands out: the end may be the outline.
std::optional<SideTrace> rim_beyond(const cv::Mat& bgr, const SideSearch& search, const SideLine& flash_end) {
  constexpr double kFarPx = 16;
  SideSearch wide = search;
  wide.reach_px = search.rim_px + std::max(search.rim_px, kFarPx);
  const int zero = static_cast<int>(search.reach_px / kStepPx);
  wide.from += (flash_end.column - flash_end.tilt - zero) * kStepPx * search.outward;
  wide.to += (flash_end.column + flash_end.tilt - zero) * kStepPx * search.outward;
  const ChangeMap map = change_map(bgr, wide);
  const int half = static_cast<int>(wide.reach_px / kStepPx);
  if (map.change.rows() < 6 || map.change.cols() < 2 * half) return std::nullopt;
  const Stack stack = stack_tilts(map.change);
  const int last = half + static_cast<int>(search.rim_px / kStepPx);
  SecondCrest best;
  int tilt = 0;
  for (int t = -kAskew; t <= kAskew; ++t) {
    const SecondCrest crest = crest_beyond_dip(stack.change[t + kMostTilt], half, last);
    if (crest.column < 0 || crest.height <= best.height) continue;
    best = crest;
    tilt = t;
  }
  const Told how = best.column < 0 ? Told::kNot : told(best, stack.change[tilt + kMostTilt], last + kNear);
  if (how == Told::kNot) return std::nullopt;
  // Few rims are so wide, and links and shadows lie behind them: of the clear lines as far out as that, two of seven
  // were the rim's, and nearer by all but a few (by experiment: tests/accuracy).
  constexpr double kSureShare = 0.62;  // of the widest rim
  const double out_px = std::max(0, best.column - half) * kStepPx;
  const bool doubtful = how == Told::kDoubtful || out_px > kSureShare * search.rim_px;
  const double doubt = doubtful ? out_px / (2 * kStepPx) : 0;
  SideTrace out{points_on(map, {best.column, tilt, -doubt}, wide), doubt * kStepPx, true};
  if (2 * out.points_px.size() <= map.at.size()) return std::nullopt;
  return out;
}

}  // namespace

SideTrace trace_side(const cv::Mat& bgr, const SideSearch& search) {
  SideTrace out;
  // A second step is told from what lies beyond it: in coarse pictures there is none within the search's own reach.
  constexpr double kLeastReachPx = 14;
  SideSearch wide = search;
  if (search.rounded_rim) wide.reach_px = std::max(search.reach_px, kLeastReachPx);
  const int margin = static_cast<int>(wide.reach_px / kStepPx) - static_cast<int>(search.reach_px / kStepPx);
  const ChangeMap map = change_map(bgr, wide);
  const int rows = static_cast<int>(map.change.rows());
  if (rows < 6 || map.change.cols() < 4 * kNear) return out;
  const SideLine line = outermost_line(map.change, search, margin);
  if (line.column < 0) return out;
  out.points_px = points_on(map, line, wide);
  out.half_range_px = line.half_range * kStepPx;
  out.rim_seen = line.beyond > 0;
  if (!ends_flash(bgr, out.points_px, search)) return out;
  return rim_beyond(bgr, wide, line).value_or(out);
}

}  // namespace glintline
