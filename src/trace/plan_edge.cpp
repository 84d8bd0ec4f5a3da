#include "trace/plan_edge.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "math/line_fit.h"
#include "math/statistics.h"
#include "trace/plan_flash.h"
#include "trace/plan_gaps.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

/// Where the flat is learned, behind the edge's line, and the ground, ahead of it; mm. The flat's range begins behind
/// any strip and most chips.
constexpr double kFlatFromMm = -1.5;
constexpr double kFlatToMm = -0.7;
constexpr double kGroundFromMm = 0.12;
constexpr double kGroundToMm = 0.45;
/// Least spread of a surface, in square root of linear light: sensor noise of a usual photograph.
constexpr float kLeastSpread = 0.012F;
/// A surface's shade drifts over the millimetre between where it is learned and where it is used; share of its level.
constexpr float kDrift = 0.06F;
/// Cost of a sample that looks like neither: less on the plate's side, where strip and dirt lie.
constexpr float kStrangerOnPlate = 6;
constexpr float kStrangerOnGround = 10;
/// Cost of a step of the path by one sample; cost of every sample's distance from the straight line, up to a limit.
/// Both matter only where flat and ground look alike: a clear sample costs 5 to 10.
constexpr float kStepCost = 5;
constexpr float kPull = 0.8F;
constexpr float kMostPull = 60;
/// How far an unevenly worn edge strays from straight.
constexpr double kStraightMm = 0.02;
constexpr double kStraightPx = 1.2;
/// Rows averaged before they are judged: single scratches and grains are narrower, the chips that count wider.
constexpr double kCoherenceMm = 0.06;
/// Distance of flat and ground (mean squared, in spreads) below which a row says nothing, and from which it says all.
constexpr float kNoContrast = 1.5F;
constexpr float kFullContrast = 6;

/// What a surface looks like: square root of linear light, which makes sensor noise even.
struct Surface {
  cv::Vec3f middle;
  cv::Vec3f spread;
  float log_spread = 0;
};

/// Middle and spread of a row's samples between two columns, neighbouring rows included.
Surface learned(const cv::Mat& roots, int row, int from, int to) {
  Surface out;
  constexpr int kRows = 2;
  std::vector<float> values;
  values.reserve(static_cast<std::size_t>(2 * kRows + 1) * static_cast<std::size_t>(std::max(0, to - from) / 3 + 1));
  for (int c = 0; c < 3; ++c) {
    values.clear();
    for (int j = std::max(0, row - kRows); j <= std::min(roots.rows - 1, row + kRows); ++j) {
      for (int i = from; i < to; i += 3) {
        const float v = roots.at<cv::Vec3f>(j, i)[c];
        if (std::isfinite(v)) values.push_back(v);
      }
    }
    if (values.empty()) values.push_back(0);
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    const float level = *middle;
    out.middle[c] = level;
    for (float& v : values) v = std::abs(v - level);
    std::nth_element(values.begin(), middle, values.end());
    out.spread[c] = std::hypot(std::max(kLeastSpread, static_cast<float>(kMadToSigma) * *middle), kDrift * level);
    out.log_spread += 2 * std::log(out.spread[c]) / 3;
  }
  return out;
}

/// Mean squared deviation over the channels, in spreads.
float strangeness(const cv::Vec3f& v, const Surface& surface) {
  float sum = 0;
  for (int c = 0; c < 3; ++c) {
    const float t = (v[c] - surface.middle[c]) / surface.spread[c];
    sum += t * t;
  }
  return std::isfinite(sum) ? sum / 3 : 0;
}

/// 0 where flat and ground look alike, 1 where they are told apart easily.
float contrast_of(const Surface& flat, const Surface& ground) {
  const float apart = std::min(strangeness(flat.middle, ground), strangeness(ground.middle, flat));
  return std::clamp((apart - kNoContrast) / (kFullContrast - kNoContrast), 0.0F, 1.0F);
}

struct Rows {
  cv::Mat unary;  ///< CV_32F: cost of the outline at a column
  std::vector<Surface> flat;
  std::vector<Surface> ground;
};

Rows row_costs(const EdgeStrip& strip, const cv::Mat& roots, double px_per_mm) {
  const auto column = [&](double mm) {
    return std::clamp(static_cast<int>(strip.column(mm * px_per_mm)), 0, roots.cols - 1);
  };
  Rows out{cv::Mat(roots.size(), CV_32F), {}, {}};
  for (int j = 0; j < roots.rows; ++j) {
    const Surface flat = learned(roots, j, column(kFlatFromMm), column(kFlatToMm));
    const Surface ground = learned(roots, j, column(kGroundFromMm), column(kGroundToMm));
    const float handicap = std::clamp(ground.log_spread - flat.log_spread, -4.0F, 4.0F);
    const float contrast = contrast_of(flat, ground);
    float* unary = out.unary.ptr<float>(j);
    float total = 0;
    for (int i = 0; i < roots.cols; ++i) {
      const cv::Vec3f v = roots.at<cv::Vec3f>(j, i);
      unary[i] = total;
      const float as_plate = std::min(strangeness(v, flat), kStrangerOnPlate);
      const float as_ground = std::min(strangeness(v, ground) + handicap, kStrangerOnGround);
      total += contrast * (as_plate - as_ground);
    }
    out.flat.push_back(flat);
    out.ground.push_back(ground);
  }
  return out;
}

/// The outline ends a line of light: no more of the rounding lies ahead of its brightest place than its whole strip.
void hold_to_flash(Rows& rows, const EdgeStrip& strip, const FlashLine& flash, double px_per_mm) {
  constexpr double kAheadMm = 0.1;  // of at most 0.14 mm of strip (plan_flash.cpp)
  constexpr double kAheadPx = 4;
  constexpr float kAwayCost = 12;  // of a sample: no likeness to the flat outweighs it
  const double ahead = std::max(kAheadPx, kAheadMm * px_per_mm);
  for (int j = 0; j < rows.unary.rows; ++j) {
    if (!flash.n_px[j]) continue;
    const double first = strip.column(*flash.n_px[j]);
    const double last = strip.column(*flash.n_px[j] + ahead);
    float* unary = rows.unary.ptr<float>(j);
    for (int i = 0; i < rows.unary.cols; ++i)
      unary[i] += kAwayCost * static_cast<float>(std::max({0.0, first - i, i - last}));
  }
}

/// cost[i] = min over k of cost[k] + step |k - i|, and the k (Felzenszwalb & Huttenlocher, Distance transforms of
/// sampled functions, 2012: the linear case).
void spread_costs(std::vector<float>& cost, std::vector<int>& from) {
  const int n = static_cast<int>(cost.size());
  for (int i = 0; i < n; ++i) from[i] = i;
  for (int i = 1; i < n; ++i) {
    if (cost[i - 1] + kStepCost < cost[i]) {
      cost[i] = cost[i - 1] + kStepCost;
      from[i] = from[i - 1];
    }
  }
  for (int i = n - 2; i >= 0; --i) {
    if (cost[i + 1] + kStepCost < cost[i]) {
      cost[i] = cost[i + 1] + kStepCost;
      from[i] = from[i + 1];
    }
  }
}

/// Cheapest column of every row; `line` holds the straight line's column in every row.
std::vector<int> cheapest_path(const cv::Mat& unary, const std::vector<double>& line) {
  const int cols = unary.cols;
  std::vector<float> cost(cols, 0);
  std::vector<std::vector<int>> from(unary.rows, std::vector<int>(cols));
  for (int j = 0; j < unary.rows; ++j) {
    if (j > 0) spread_costs(cost, from[j]);
    const float* row = unary.ptr<float>(j);
    for (int i = 0; i < cols; ++i) {
      cost[i] += row[i] + std::min(kMostPull, kPull * static_cast<float>(std::abs(i - line[j])));
    }
  }
  std::vector<int> path(unary.rows);
  path.back() = static_cast<int>(std::min_element(cost.begin(), cost.end()) - cost.begin());
  for (int j = unary.rows - 1; j > 0; --j) path[j - 1] = from[j][path[j]];
  return path;
}

/// Straight line through the path's rows of good contrast, as a column for every row. `tolerance` in columns: how far
/// an unevenly worn edge strays from straight.
std::vector<double> line_through(const std::vector<int>& path, const std::vector<bool>& contrast, double tolerance) {
  std::vector<Point2> points;
  for (std::size_t j = 0; j < path.size(); ++j) {
    if (contrast[j]) points.emplace_back(static_cast<double>(j), path[j]);
  }
  FitOptions options;
  options.loss = Loss::kTukey;
  options.least_sigma = 1;
  const Result<LineFit> fit = fit_line(agreeing_points(points, tolerance), options);
  std::vector<double> out(path.size());
  const bool usable = fit.ok() && std::abs(fit->line.direction.x()) > 0.9;
  const double middle = path.empty() ? 0 : median(std::vector<double>(path.begin(), path.end()));
  for (std::size_t j = 0; j < out.size(); ++j) {
    const double slope = usable ? fit->line.direction.y() / fit->line.direction.x() : 0;
    out[j] = usable ? fit->line.point.y() + slope * (static_cast<double>(j) - fit->line.point.x()) : middle;
  }
  return out;
}

/// Sum over a row's samples.
double strangeness_of_row(const cv::Mat& roots, const Surface& surface, int row, int first, int last) {
  double sum = 0;
  for (int i = first; i < last; ++i) {
    sum += std::min(strangeness(roots.at<cv::Vec3f>(row, i), surface), 4 * kStrangerOnGround);
  }
  return sum;
}

/// What lies between outline and line: `flat` 0 where it looks like the ground, 1 where it looks like the flat (a
/// scratch or a stain comes out half-way, a gap shows the ground itself); `strange` is its distance from the ground,
/// mean squared in the ground's spreads (sawdust has its own colour); `step` is the change across the straight line,
/// as a share of the contrast of flat and ground: a gap shows the same ground on both sides of it; `warmer` is by how
/// much it is redder than both, as rust and sawdust are, which the bench seen through a gap is only in the shade:
/// `light` is its light as a share of the flat's, `over_ground` of the ground's.
struct Likeness {
  double flat = 0;
  double strange = 0;
  double step = 0;
  double warmer = 0;
  double light = 0;
  double over_ground = 0;
};

/// Mean change across the line from 3 px behind it to 3 px ahead of it.
cv::Vec3f change_across(const cv::Mat& roots, int row, double line) {
  cv::Vec3f sum(0, 0, 0);
  for (int k = 3; k <= 9; ++k) {
    const int ahead = std::min(roots.cols - 1, static_cast<int>(line) + k);
    const int behind = std::max(0, static_cast<int>(line) - k);
    sum += roots.at<cv::Vec3f>(row, behind) - roots.at<cv::Vec3f>(row, ahead);
  }
  return sum / 7;
}

Likeness likeness(const cv::Mat& roots, const Rows& rows, const Excursion& e, const std::vector<int>& path,
                  const std::vector<double>& line) {
  cv::Vec3f seen(0, 0, 0);
  cv::Vec3f flat(0, 0, 0);
  cv::Vec3f ground(0, 0, 0);
  float count = 0;
  double strange = 0;
  cv::Vec3f across(0, 0, 0);
  float deep = 0;
  for (std::size_t j = e.first; j < e.last; ++j) {
    const int first = path[j] + 3;
    const int last = static_cast<int>(line[j]) - 4;
    for (int i = first; i < last; ++i) {
      seen += roots.at<cv::Vec3f>(static_cast<int>(j), i);
      flat += rows.flat[j].middle;
      ground += rows.ground[j].middle;
      count += 1;
    }
    if (last - first > 12) {
      across += change_across(roots, static_cast<int>(j), line[j]);
      deep += 1;
    }
    if (last > first) strange += strangeness_of_row(roots, rows.ground[j], static_cast<int>(j), first, last);
  }
  if (count == 0) return {};
  const cv::Vec3f axis = (flat - ground) / count;
  return {(seen - ground).dot(axis) / count / std::max(1e-6F, axis.dot(axis)),
          strange / count,
          deep > 0 ? std::sqrt(across.dot(across)) / deep / std::max(1e-3, std::sqrt(double{axis.dot(axis)})) : 0,
          warmth(seen / count) - std::max(warmth(flat / count), warmth(ground / count)),
          seen.dot(seen) / std::max(1e-6F, flat.dot(flat)),
          seen.dot(seen) / std::max(1e-6F, ground.dot(ground))};
}

/// Going inwards from the outline, the place behind which eight samples in a row look like the flat.
int flat_begin(const cv::Mat& roots, const Surface& flat, int row, int outline) {
  constexpr float kAlike = 4;  // mean squared deviation, in spreads: 2 sigma
  constexpr int kRun = 8;
  int run = 0;
  for (int i = outline - 1; i > 0; --i) {
    run = strangeness(roots.at<cv::Vec3f>(row, i), flat) < kAlike ? run + 1 : 0;
    if (run == kRun) return i + kRun;
  }
  return outline;
}

/// The place that best parts a row into flat, behind it, and what is no flat, up to the outline. Single grains of the
/// flat are strange and patches of a broken corner's wall look like the flat: the sum decides.
int flat_end(const cv::Mat& roots, const Surface& flat, int row, int outline) {
  constexpr float kAlike = 4;  // mean squared deviation, in spreads: 2 sigma
  constexpr float kStrangest = 10;
  float sum = 0;
  float most = 0;
  int end = outline;
  for (int i = outline - 1; i >= 0; --i) {
    sum += std::min(strangeness(roots.at<cv::Vec3f>(row, i), flat), kStrangest) - kAlike;
    if (sum <= most) continue;
    most = sum;
    end = i;
  }
  return end;
}

/// The side plate is at most some 2 mm thick (by experience): further from the corner there is no wall of its own.
constexpr double kSidePlateMm = 2;
/// The bend of a rounded corner: radius 1 to 2 mm (TRADE.md), and room before it.
constexpr double kBendMm = 2.5;

/// True where most of a row's samples are darker than the flat, by `share` of the root of its light: shade or a dark
/// wall, and no dirt.
bool mostly_dark(const cv::Mat& roots, const Surface& flat, float share, int row, int first, int last) {
  int dark = 0;
  for (int i = first; i < last; ++i) {
    const cv::Vec3f v = roots.at<cv::Vec3f>(row, i);
    bool all = true;
    for (int c = 0; c < 3; ++c) all = all && v[c] < share * flat.middle[c];
    dark += all ? 1 : 0;
  }
  return 4 * dark > 3 * (last - first);
}

/// True where the light changes at a column, as it does where the flat ends and not where its shade drifts.
bool steps_at(const cv::Mat& roots, int row, int column) {
  constexpr int kSamples = 6;
  constexpr int kBeside = 2;          // the blur's
  constexpr float kLeastStep = 0.1F;  // root of linear light
  if (column < kSamples + kBeside || column + kSamples + kBeside >= roots.cols) return false;
  cv::Vec3f step(0, 0, 0);
  for (int i = 0; i < kSamples; ++i)
    step += roots.at<cv::Vec3f>(row, column + kBeside + i) - roots.at<cv::Vec3f>(row, column - 1 - kBeside - i);
  return std::max({std::abs(step[0]), std::abs(step[1]), std::abs(step[2])}) / kSamples > kLeastStep;
}

/// In gaps the flat may end behind the outline, where the cut wall of the side plate or other metal in shade shows.
void find_flat_ends(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots, const Rows& rows,
                    const std::vector<int>& columns, double px_per_mm) {
  constexpr double kGapMm = 0.2;     // more than any rounding's strip
  constexpr double kCornerMm = 0.2;  // a gap that begins here has taken the corner
  constexpr double kShadePx = 3;     // outlines wander by half a pixel each
  constexpr float kShade = 0.7F;     // half of the flat's light
  constexpr float kDeepShade = 0.5F;  // a quarter: a flat that flashes is twice as bright as the rest of the plate
  path.flat_n_px = path.n_px;
  std::vector<double> behind;
  for (std::size_t j = 0; j < columns.size(); ++j) behind.push_back(path.line_px[j] - path.n_px[j]);
  for (const Excursion& e : excursions(behind, std::max(4.0, 0.06 * px_per_mm))) {
    const bool side_plate = strip.s(static_cast<int>(e.first)) <= kSidePlateMm * px_per_mm;
    const bool corner = strip.s(static_cast<int>(e.first)) < kCornerMm * px_per_mm;
    std::vector<double> ends;
    for (std::size_t j = e.first; j < e.last; ++j) {
      const auto end = corner ? flat_end : flat_begin;
      ends.push_back(strip.n(end(roots, rows.flat[j], static_cast<int>(j), columns[j])));
    }
    // A wall is seen over the better part of the gap; single rows are dirt.
    for (std::size_t j = e.first; j < e.last; ++j) {
      const auto around = [&](std::size_t k) { return ends[std::min(ends.size() - 1, k)]; };
      const std::size_t k = j - e.first;
      std::vector<double> near;
      for (std::size_t m = k >= 4 ? k - 4 : 0; m <= k + 4; ++m) near.push_back(around(m));
      const double end = median(near);
      const double gap = path.n_px[j] - end;
      const int row = static_cast<int>(j);
      const int column = static_cast<int>(strip.column(end));
      const bool wide = gap > kGapMm * px_per_mm;
      const bool wall = side_plate && wide && (corner || steps_at(roots, row, column));
      const float share = wide ? kDeepShade : kShade;
      const bool shade = !corner && gap > kShadePx && mostly_dark(roots, rows.flat[j], share, row, column, columns[j]);
      if (wall || shade) path.flat_n_px[j] = end;
    }
  }
}

/// Near the corner, where every row stops looking like the plate behind it.
void find_likeness_ends(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots, const Rows& rows,
                        const std::vector<int>& columns, double px_per_mm) {
  constexpr std::size_t kRows = 3;
  std::vector<double> ends;
  for (std::size_t j = 0; j < columns.size() && strip.s(static_cast<int>(j)) < kBendMm * px_per_mm; ++j)
    ends.push_back(strip.n(flat_end(roots, rows.flat[j], static_cast<int>(j), columns[j])));
  path.alike_n_px = path.n_px;
  for (std::size_t j = 0; j < ends.size(); ++j) {
    const std::size_t first = std::max(kRows, j) - kRows;
    const std::size_t last = std::min(ends.size(), j + kRows + 1);
    path.alike_n_px[j] = median(std::vector<double>(ends.begin() + static_cast<std::ptrdiff_t>(first),
                                                    ends.begin() + static_cast<std::ptrdiff_t>(last)));
  }
}

/// Outline beyond the line that is no rounding's doing, and gaps that do not show the ground, are given up.
/// Where a break of the line of light told a gap (`told`), it is one whatever shows in it: only dirt is left out.
void drop_doubtful(EdgePath& path, const cv::Mat& roots, const Rows& rows, const std::vector<int>& columns,
                   const std::vector<double>& line, const std::vector<bool>& told, double step_px, double px_per_mm) {
  constexpr double kMostBeyondMm = 0.06;
  // Where what lies below is dark the outline ends a rounding's strip, where it is bright the flat: for a good way, and
  // by no more than a strip's width. The line may run along either.
  constexpr double kStripMm = 0.1;
  constexpr double kStripRunMm = 0.15;
  constexpr double kGapFromPx = 4;
  constexpr double kMostLikeness = 0.4;
  constexpr double kMostStep = 0.25;
  constexpr double kLeastStainLight = 0.35;
  constexpr double kMostWarmer = 0.07;  // rust's and sawdust's light is redder by 0.1 to 0.3 (by experience)
  constexpr double kRedder = 0.15;      // plainly so, on a flat that may flash
  std::vector<double> behind;
  for (std::size_t j = 0; j < columns.size(); ++j) behind.push_back(path.line_px[j] - path.n_px[j]);
  const auto give_up = [&](const Excursion& e) {
    for (std::size_t j = e.first; j < e.last; ++j) {
      path.n_px[j] = path.line_px[j];
      path.contrast[j] = false;
    }
  };
  for (const Excursion& e : excursions(behind, kGapFromPx)) {
    const Likeness l = likeness(roots, rows, e, columns, line);
    const double light = l.warmer > kRedder ? std::max(l.light, l.over_ground) : l.light;
    const bool stained = l.warmer > kMostWarmer && light > kLeastStainLight;
    const auto rows_told = std::count(told.begin() + static_cast<std::ptrdiff_t>(e.first),
                                      told.begin() + static_cast<std::ptrdiff_t>(e.last), true);
    if (2 * rows_told > static_cast<std::ptrdiff_t>(e.last - e.first)) {
      if (stained) give_up(e);
      continue;
    }
    if (stained || l.flat > kMostLikeness || l.strange > kStrangerOnGround || l.step > kMostStep) give_up(e);
  }
  for (double& b : behind) b = -b;
  for (const Excursion& e : excursions(behind, std::max(3.0, kMostBeyondMm * px_per_mm))) {
    const auto first = behind.begin() + static_cast<std::ptrdiff_t>(e.first);
    const auto last = behind.begin() + static_cast<std::ptrdiff_t>(e.last);
    const double run = static_cast<double>(e.last - e.first) * step_px;
    if (run < kStripRunMm * px_per_mm || *std::max_element(first, last) > kStripMm * px_per_mm) give_up(e);
  }
}

/// Room that the camera's sharpening takes about what it is taken out of.
constexpr double kSharpeningsReachPx = 8;

/// The part of a picture that holds a strip, with room about it.
cv::Rect part_around(const cv::Size& picture, const EdgeFrame& frame, double behind_px, double beyond_px,
                     double room_px) {
  Eigen::AlignedBox2d box;
  for (const double s : {0.0, frame.length_px}) {
    for (const double n : {-behind_px, beyond_px}) box.extend(frame.px(s, n));
  }
  const Point2 low = box.min() - Point2::Constant(room_px);
  const Point2 size = box.sizes() + Point2::Constant(2 * room_px);
  const cv::Rect wanted(static_cast<int>(low.x()), static_cast<int>(low.y()), static_cast<int>(size.x()),
                        static_cast<int>(size.y()));
  return wanted & cv::Rect(cv::Point(), picture);
}

cv::Vec3f interpolated(const cv::Mat& linear, const Point2& p) {
  const int x = static_cast<int>(p.x());
  const int y = static_cast<int>(p.y());
  const auto fx = static_cast<float>(p.x() - x);
  const auto fy = static_cast<float>(p.y() - y);
  const cv::Vec3f* upper = linear.ptr<cv::Vec3f>(y) + x;
  const cv::Vec3f* lower = linear.ptr<cv::Vec3f>(y + 1) + x;
  return (upper[0] * (1 - fx) + upper[1] * fx) * (1 - fy) + (lower[0] * (1 - fx) + lower[1] * fx) * fy;
}

/// Seen rows without a jump between them.
struct Piece {
  int first = 0;
  int last = 0;  ///< itself included
};

std::vector<Piece> seen_pieces(const EdgePath& path, double jump) {
  // Over rows without contrast an outline moves on, at a bend by up to as much as its rows.
  constexpr double kMostSlope = 1;
  std::vector<Piece> out;
  for (int j = 0; j < static_cast<int>(path.n_px.size()); ++j) {
    if (!path.contrast[j]) continue;
    const bool goes_on = !out.empty() && std::abs(path.n_px[j] - path.n_px[out.back().last]) <
                                             jump + kMostSlope * (j - out.back().last - 1);
    if (!goes_on) out.push_back({j, j});
    out.back().last = j;
  }
  return out;
}

/// What stands ahead of its neighbours on both sides, cut off from them by jumps and shorter than any plate's corner,
/// is a pattern of what lies below. So is what begins the outline and stands ahead of the rest by more than its own
/// length: steel so thin does not stay. Rows without contrast are no neighbours: their place is not seen. A few rows
/// that stand behind two neighbours on the edge's line are a scrap of a scratch or a stain: no chip that counts is so
/// narrow.
void drop_islands(EdgePath& path, double step_px, double px_per_mm) {
  constexpr double kJumpMm = 0.08;
  constexpr double kJumpPx = 4;
  constexpr double kLongestMm = 0.3;
  constexpr double kScrapMm = 0.1;
  const double jump = std::max(kJumpPx, kJumpMm * px_per_mm);
  const std::vector<Piece> pieces = seen_pieces(path, jump);
  const auto on_line = [&](int row) { return std::abs(path.n_px[row] - path.line_px[row]) < jump; };
  for (std::size_t k = 0; k + 1 < pieces.size(); ++k) {
    const Piece& p = pieces[k];
    const double length = (p.last + 1 - p.first) * step_px;
    const double ahead = path.n_px[p.last] - path.n_px[pieces[k + 1].first];
    const bool cut_off = k > 0 ? path.n_px[p.first] > path.n_px[pieces[k - 1].last] && ahead > 0 : ahead > length;
    const bool scrap = k > 0 && length < kScrapMm * px_per_mm && ahead < 0 && on_line(pieces[k - 1].last) &&
                       on_line(pieces[k + 1].first) && !on_line(p.first);
    if (scrap || (cut_off && length < kLongestMm * px_per_mm)) {
      std::fill(path.contrast.begin() + p.first, path.contrast.begin() + p.last + 1, false);
    }
  }
}

/// In full shadow nothing has a colour: root of linear light. Where a wall as dark as shade may show, its noise alone.
constexpr float kBlack = 0.09F;
constexpr float kBlackBesideWalls = 0.02F;

/// True where a sample is the ground in shadow: its colour, dimmed. Only a coloured ground can be told so.
bool shaded(const cv::Vec3f& v, const Surface& ground, float black) {
  constexpr float kOffColour = 0.15F;  // share of the shade's own level
  if (!colourful(ground.middle)) return false;
  const float share = v.dot(ground.middle) / ground.middle.dot(ground.middle);
  const cv::Vec3f off = v - share * ground.middle;
  const float allowed = kOffColour * share * std::max({ground.middle[0], ground.middle[1], ground.middle[2]}) + black;
  return share < 1.1F && off.dot(off) < allowed * allowed;
}

/// A gap may lie in the plate's own shadow as a whole, or its bottom does: it is followed there. The last part of a
/// rounding mirrors the ground too, but is narrower than a gap that counts.
void follow_into_shade(EdgePath& path, std::vector<int>& columns, const EdgeStrip& strip, const cv::Mat& roots,
                       const Rows& rows, double px_per_mm) {
  constexpr double kGapPx = 4;
  constexpr double kGapMm = 0.06;
  constexpr double kMostMm = 0.9;  // behind the line; the flat is learned around there
  const int most = static_cast<int>(kMostMm * px_per_mm / strip.step_n);
  std::vector<int> ends = columns;
  for (std::size_t j = 0; j < columns.size(); ++j) {
    if (!path.contrast[j]) continue;
    const bool walls = strip.s(static_cast<int>(j)) < kSidePlateMm * px_per_mm;
    const float black = walls ? kBlackBesideWalls : kBlack;
    const int least = std::max(1, static_cast<int>(strip.column(path.line_px[j])) - most);
    while (ends[j] >= least && shaded(roots.at<cv::Vec3f>(static_cast<int>(j), ends[j] - 1), rows.ground[j], black))
      --ends[j];
  }
  ends = middles(ends, 2);
  std::vector<double> behind;
  for (std::size_t j = 0; j < ends.size(); ++j) {
    ends[j] = std::min(columns[j], ends[j]);
    behind.push_back(path.line_px[j] - path.n_px[j] + strip.step_n * (columns[j] - ends[j]));
  }
  for (const Excursion& e : excursions(behind, kGapPx)) {
    double was = 0;
    double is = 0;
    for (std::size_t j = e.first; j < e.last; ++j) {
      was = std::max(was, path.line_px[j] - path.n_px[j]);
      is = std::max(is, behind[j]);
    }
    if (was < kGapPx && is < kGapPx + kGapMm * px_per_mm) continue;
    for (std::size_t j = e.first; j < e.last; ++j) move_row(path, columns, strip, j, ends[j]);
  }
}

/// How far a sample is from the ground's light, linear. A coloured ground keeps its colour in the shade that lies at
/// the plate's foot and that no picture shows where the ground is learned.
float off_ground(const cv::Vec3f& v, const cv::Vec3f& ground) {
  constexpr float kDeepest = 0.4F;  // of the ground's light is left in the shade at the foot
  const float share = colourful(ground) ? std::clamp(v.dot(ground) / ground.dot(ground), kDeepest, 1.0F) : 1;
  const cv::Vec3f d = v - share * ground;
  return std::sqrt(d.dot(d));
}

/// Going inwards from column `first` to `last`, where the light is half-way from the ground to what differs from it
/// most. fails (nothing): nothing differs, or already at the beginning.
std::optional<double> half_way(const cv::Vec3f* row, int first, int last, const cv::Vec3f& ground) {
  constexpr float kLeastStep = 0.01F;  // of white, linear: an 8-bit picture's noise at mid levels
  std::vector<float> off;
  for (int i = first; i >= last; --i) off.push_back(off_ground(row[i], ground));
  const auto peak = std::max_element(off.begin(), off.end());
  if (peak == off.end() || !(*peak > kLeastStep)) return std::nullopt;
  auto k = peak;
  while (k != off.begin() && *k > *peak / 2) --k;
  if (k == off.begin() || k == peak) return std::nullopt;
  const double share = (*peak / 2 - *k) / std::max(1e-6F, *(k + 1) - *k);
  return first - (static_cast<double>(k - off.begin()) + share);
}

/// Every row's move: between neighbouring ends theirs; elsewhere along the straight line the usual one, where enough
/// ends tell it, because one edge's rounding mirrors the ground alike. A gap's walls are not rounded.
std::vector<double> moves_by_row(const std::vector<StripEnd>& ends, const std::vector<double>& moves, int reach_rows,
                                 const EdgePath& path) {
  constexpr std::size_t kEnough = 8;
  constexpr double kGapPx = 4;
  const double usual = moves.size() < kEnough ? 0 : median(moves);
  // The middle of some rows: a path that wanders about the limit would be torn.
  constexpr std::size_t kRows = 5;
  std::vector<double> off;
  for (std::size_t j = 0; j < path.n_px.size(); ++j) off.push_back(std::abs(path.n_px[j] - path.line_px[j]));
  std::vector<double> out;
  for (std::size_t j = 0; j < off.size(); ++j) {
    const auto first = off.begin() + static_cast<std::ptrdiff_t>(j - std::min(j, kRows));
    const auto last = off.begin() + static_cast<std::ptrdiff_t>(std::min(off.size(), j + kRows + 1));
    out.push_back(path.contrast[j] && median(std::vector<double>(first, last)) < kGapPx ? usual : 0);
  }
  for (std::size_t k = 0; k + 1 < ends.size(); ++k) {
    const int way = ends[k + 1].row - ends[k].row;
    if (way <= 0 || way > reach_rows) continue;
    for (int j = ends[k].row; j < ends[k + 1].row; ++j) {
      const double share = static_cast<double>(j - ends[k].row) / way;
      out[j] = (1 - share) * moves[k] + share * moves[k + 1];
    }
  }
  return out;
}

/// How far behind the brightest place of every row's line of light its light is half-way up from the flat's; of rows
/// that lie in the picture so far.
std::vector<double> widths_behind(const EdgeStrip& strip, const std::vector<std::optional<double>>& brightest,
                                  const EdgePath& path) {
  std::vector<double> widths;
  for (std::size_t j = 0; j < brightest.size(); ++j) {
    if (!brightest[j]) continue;
    const auto* row = strip.linear.ptr<cv::Vec3f>(static_cast<int>(j));
    const auto over_flat = [&](int i) { return i < 0 || i >= strip.linear.cols ? 0 : cv::norm(row[i] - path.flat[j]); };
    const int peak = static_cast<int>(std::lround(strip.column(*brightest[j])));
    const double half = over_flat(peak) / 2;
    int i = peak;
    while (i >= 0 && over_flat(i) > half) --i;
    const double share = (half - over_flat(i)) / std::max(1e-6, over_flat(i + 1) - over_flat(i));
    if (std::isfinite(share)) widths.push_back(*brightest[j] - strip.n(i) - strip.step_n * share);
  }
  return widths;
}

/// True where the ground of a row that shows its outline is brighter than the flat, so that the path ends the flat.
bool ends_flat(const EdgePath& path, std::size_t row) {
  constexpr float kBrighter = 1.2F;
  const auto light = [](const cv::Vec3f& v) { return v[0] + v[1] + v[2]; };
  return path.contrast[row] && light(path.ground[row]) > kBrighter * light(path.flat[row]);
}

}  // namespace

bool EdgeLight::holds(const cv::Size& picture, const EdgeFrame& frame, double behind_px, double beyond_px) const {
  const cv::Rect wanted = part_around(picture, frame, behind_px, beyond_px, kSharpeningsReachPx);
  return (wanted & cv::Rect(origin, linear.size())) == wanted;
}

EdgeLight light_about(const cv::Mat& bgr, const Sharpening& sharpening, const EdgeFrame& frame, double behind_px,
                      double beyond_px) {
  constexpr double kElsewherePx = 8;
  const cv::Rect part = part_around(bgr.size(), frame, behind_px, beyond_px, kSharpeningsReachPx + kElsewherePx);
  if (part.empty()) return {};
  return {linear_unsharpened(bgr(part), sharpening), part.tl()};
}

EdgeStrip sample_edge(const EdgeLight& light, const EdgeFrame& frame, double behind_px, double beyond_px) {
  EdgeStrip strip;
  strip.frame = frame;
  strip.first_n = -behind_px;
  const int rows = static_cast<int>(frame.length_px / strip.step_s);
  const int cols = static_cast<int>((behind_px + beyond_px) / strip.step_n);
  strip.linear = cv::Mat(rows, cols, CV_32FC3, cv::Scalar::all(NAN));
  if (light.linear.empty()) return strip;
  const Point2 origin(light.origin.x, light.origin.y);
  for (int j = 0; j < rows; ++j) {
    cv::Vec3f* out = strip.linear.ptr<cv::Vec3f>(j);
    for (int i = 0; i < cols; ++i) {
      const Point2 p = frame.px(strip.s(j), strip.n(i)) - origin;
      if (inside(light.linear, p.x(), p.y())) out[i] = interpolated(light.linear, p);
    }
  }
  return strip;
}

EdgePath find_outline(const EdgeStrip& strip, double px_per_mm) {
  cv::Mat roots;
  const int together = 2 * static_cast<int>(kCoherenceMm * px_per_mm / 2 / strip.step_s) + 1;
  cv::blur(strip.linear, roots, cv::Size(1, together), cv::Point(-1, -1), cv::BORDER_REPLICATE);
  cv::sqrt(roots, roots);
  Rows rows = row_costs(strip, roots, px_per_mm);
  const std::optional<FlashLine> flash = find_flash(strip, px_per_mm);
  if (flash) hold_to_flash(rows, strip, *flash, px_per_mm);
  EdgePath out;
  for (int j = 0; j < roots.rows; ++j) {
    const cv::Vec3f f = rows.flat[j].middle;
    const cv::Vec3f g = rows.ground[j].middle;
    out.flat.push_back(f.mul(f));
    out.ground.push_back(g.mul(g));
    out.flash_n_px.push_back(flash ? flash->n_px[j] : std::nullopt);
    out.contrast.push_back(out.flash_n_px[j] || contrast_of(rows.flat[j], rows.ground[j]) > 0.5F);
  }
  // The coarse line first, then the line the clear rows lie on.
  std::vector<double> line(roots.rows, strip.column(0));
  for (int j = 0; flash && j < roots.rows; ++j) line[j] = strip.column(flash->line_n_px[j]);
  std::vector<int> path = cheapest_path(rows.unary, line);
  line = line_through(path, out.contrast, std::max(kStraightPx, kStraightMm * px_per_mm) / strip.step_n);
  path = cheapest_path(rows.unary, line);
  for (const int column : path) out.n_px.push_back(strip.n(column));
  for (const double column : line) out.line_px.push_back(strip.n(column));
  const std::vector<bool> told = follow_breaks(out, path, strip, roots, px_per_mm);
  drop_doubtful(out, roots, rows, path, line, told, strip.step_s, px_per_mm);
  follow_into_shade(out, path, strip, roots, rows, px_per_mm);
  find_flat_ends(out, strip, roots, rows, path, px_per_mm);
  find_likeness_ends(out, strip, roots, rows, path, px_per_mm);
  give_up_marks(out, strip, roots);
  tell_gaps(out, strip, roots);
  return out;
}

void sharpen_path(const EdgeStrip& strip, double px_per_mm, EdgePath& path) {
  constexpr double kReachPx = 5;
  constexpr double kAheadPx = 4;
  cv::Mat smooth;
  cv::blur(strip.linear, smooth, cv::Size(1, 3), cv::Point(-1, -1), cv::BORDER_REPLICATE);
  for (int j = 0; j < smooth.rows; ++j) {
    if (!path.contrast[j]) continue;
    const int last = std::max(0, static_cast<int>(strip.column(path.n_px[j] - kReachPx)));
    const auto sharpened = [&](double ahead) {
      const int first = std::min(smooth.cols - 1, static_cast<int>(strip.column(path.n_px[j] + ahead)));
      return half_way(smooth.ptr<cv::Vec3f>(j), first, last, path.ground[j]);
    };
    std::optional<double> column = sharpened(kAheadPx);
    // What is no slip as far out as that is the plate's; without a slip it may be anything.
    if (!column && colourful(path.ground[j])) column = sharpened(2 * kAheadPx);
    if (!column) continue;
    const bool wall = path.flat_n_px[j] < path.n_px[j];
    path.n_px[j] = strip.n(*column);
    if (!wall) path.flat_n_px[j] = path.n_px[j];
  }
  drop_islands(path, strip.step_s, px_per_mm);
}

void move_to_strips(const std::vector<StripEnd>& ends, int reach_rows, EdgePath& path) {
  std::vector<double> moves;
  for (const StripEnd& end : ends) moves.push_back(end.n_px - path.n_px[end.row]);
  // The middle of five: a single station beside a chip's wall may have taken the wall for its outline.
  std::vector<double> smooth;
  for (std::size_t k = 0; k < ends.size(); ++k) {
    std::vector<double> near;
    for (std::size_t m = std::max<std::size_t>(2, k) - 2; m < std::min(ends.size(), k + 3); ++m)
      near.push_back(moves[m]);
    smooth.push_back(median(near));
  }
  const std::vector<double> by_row = moves_by_row(ends, smooth, reach_rows, path);
  for (std::size_t j = 0; j < by_row.size(); ++j) {
    const bool wall = path.flat_n_px[j] < path.n_px[j];
    path.n_px[j] += by_row[j];
    if (!wall) path.flat_n_px[j] = path.n_px[j];
  }
}

void move_to_flash(const EdgeStrip& strip, const std::vector<StripEnd>& ends, EdgePath& path) {
  constexpr std::size_t kEnough = 8;
  constexpr std::size_t kRows = 3;
  constexpr double kOnEdgePx = 4;
  const std::size_t rows = path.n_px.size();
  std::vector<std::optional<double>> smooth(rows);
  for (std::size_t j = 0; j < rows; ++j) {
    if (!path.flash_n_px[j]) continue;
    std::vector<double> near;
    for (std::size_t k = j - std::min(j, kRows); k < std::min(rows, j + kRows + 1); ++k) {
      if (path.flash_n_px[k]) near.push_back(*path.flash_n_px[k]);
    }
    smooth[j] = mean(near);
  }
  std::vector<double> ahead;
  for (const StripEnd& end : ends) {
    if (smooth[end.row]) ahead.push_back(end.n_px - *smooth[end.row]);
  }
  if (ahead.size() < kEnough) return;
  const double usual = median(std::move(ahead));
  std::vector<Point2> outline;
  for (std::size_t j = 0; j < rows; ++j) {
    if (!smooth[j]) continue;
    path.n_px[j] = path.flat_n_px[j] = *smooth[j] + usual;
    path.contrast[j] = true;
    outline.emplace_back(j, path.n_px[j]);
  }
  const std::vector<double> widths = widths_behind(strip, smooth, path);
  const auto edge = fit_line(outline, {.loss = Loss::kTukey, .least_sigma = 0.1});
  if (!edge.ok() || widths.size() < kEnough) return;
  const double beyond_flat = usual + median(widths);
  for (std::size_t j = 0; j < rows; ++j) {
    if (smooth[j] || !ends_flat(path, j)) continue;
    const Point2 moved(j, path.n_px[j] + beyond_flat);
    // The walls of gaps are not rounded, and a bend ahead of the edge is another's.
    if (std::abs(edge->line.distance(moved)) > kOnEdgePx) continue;
    path.n_px[j] = path.flat_n_px[j] = moved.y();
  }
}

}  // namespace glintline
