#include "trace/plan_gaps.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "math/statistics.h"
#include "trace/plan_light.h"

namespace glintline {

namespace {

/// Rows without the line of light between rows that show it: a gap has taken the edge there, or dirt lies on it. A few
/// rows that show one by themselves are a glint in the gap.
std::vector<Excursion> breaks_of(const EdgePath& path, double least_rows, double most_rows) {
  constexpr std::size_t kGlint = 4;
  std::vector<double> shows;
  for (const auto& crest : path.flash_n_px) shows.push_back(crest ? 1 : 0);
  std::vector<Excursion> shown = excursions(shows, 1);
  std::erase_if(shown, [](const Excursion& e) { return e.last - e.first <= kGlint; });
  std::vector<Excursion> out;
  for (std::size_t k = 0; k + 1 < shown.size(); ++k) {
    const Excursion gap{shown[k].last, shown[k + 1].first};
    const auto rows = static_cast<double>(gap.last - gap.first);
    if (rows > least_rows && rows < most_rows) out.push_back(gap);
  }
  return out;
}

cv::Vec3d mean_of(const cv::Mat& roots, int row, int first, int last) {
  cv::Vec3d sum(0, 0, 0);
  first = std::max(0, first);
  last = std::min(roots.cols, last);
  for (int i = first; i < last; ++i) sum += cv::Vec3d(roots.at<cv::Vec3f>(row, i));
  return sum / std::max(1, last - first);
}

/// Where a row from `first` to `last` changes from one even surface to another: the split that leaves least of its
/// variance within the two (Otsu 1979, over place instead of level). Fails (nothing): no plain change.
std::optional<int> change_in(const cv::Mat& roots, int row, int first, int last) {
  constexpr int kLeastSamples = 4;
  constexpr double kLeastChange = 0.05;  // root of linear light
  constexpr double kLeastRatio = 2;      // over what the two vary by themselves
  const auto* v = roots.ptr<cv::Vec3f>(row);
  const auto squared = [](const cv::Vec3d& d) { return d.dot(d); };
  cv::Vec3d all(0, 0, 0);
  double squares = 0;
  for (int i = first; i < last; ++i) {
    all += cv::Vec3d(v[i]);
    squares += squared(v[i]);
  }
  const int count = last - first;
  cv::Vec3d before(0, 0, 0);
  double best = 0;
  double change = 0;
  int at = first;
  for (int i = first; i < last - kLeastSamples; ++i) {
    before += cv::Vec3d(v[i]);
    const int n = i + 1 - first;
    if (n < kLeastSamples) continue;
    const double between = squared(before) / n + squared(all - before) / (count - n);
    if (!(between > best)) continue;
    best = between;
    at = i + 1;
    change = std::sqrt(squared(before / n - (all - before) / (count - n)));
  }
  const double within = std::sqrt(std::max(0.0, squares - best) / std::max(1, count));
  if (!std::isfinite(squares) || change < kLeastChange || change < kLeastRatio * within) return std::nullopt;
  return at;
}

/// True where the outline itself is told by a slip's colour: there no line of light is needed.
bool over_slip(const EdgePath& path, std::size_t row) { return path.contrast[row] && colourful(path.ground[row]); }

/// Roots of light about what lies between column `end` and the edge's line, at `row`.
struct Around {
  cv::Vec3d gap;
  cv::Vec3d ahead;
  cv::Vec3d plate;
};

Around around_gap(const cv::Mat& roots, int row, int end, int line) {
  constexpr int kNearPx = 4;  // of the line, where its light or the blur may lie
  constexpr int kMuch = 9;    // columns
  return {mean_of(roots, row, std::max(end, line - kNearPx - kMuch), std::max(end + 1, line - kNearPx)),
          mean_of(roots, row, line + 2 * kNearPx, line + 2 * kNearPx + kMuch),
          mean_of(roots, row, end - kMuch - 2, end - 2)};
}

/// True where what lies in a gap is what lies ahead of the line too, not the plate.
bool shows_ground(const Around& a) {
  constexpr double kMostShare = 0.6;
  return cv::norm(a.gap - a.ahead) < kMostShare * cv::norm(a.gap - a.plate);
}

/// A straight course of the edge's line of light over rows that do not show it.
struct LineCourse {
  Excursion rows;
  double before = 0;  ///< crest in the row before the first, px as EdgePath::flash_n_px
  double after = 0;   ///< and in the one after the last

  [[nodiscard]] double crest(std::size_t row) const {
    const double share = static_cast<double>(row + 1 - rows.first) / static_cast<double>(rows.last + 1 - rows.first);
    return before + share * (after - before);
  }
};

/// By how much light changes across the line itself: rows laid over each other along it.
cv::Vec3d step_across(const cv::Mat& roots, const EdgeStrip& strip, const LineCourse& line, const Excursion& rows) {
  constexpr int kNearLinePx = 2;
  constexpr int kFarFromLinePx = 5;
  cv::Vec3d step(0, 0, 0);
  for (std::size_t j = rows.first; j < rows.last; ++j) {
    const int at = static_cast<int>(std::lround(strip.column(line.crest(j))));
    step += mean_of(roots, static_cast<int>(j), at + kNearLinePx, at + kFarFromLinePx + 1) -
            mean_of(roots, static_cast<int>(j), at - kFarFromLinePx, at - kNearLinePx + 1);
  }
  return step / static_cast<double>(rows.last - rows.first);
}

/// The same about one row of the line.
double step_across(const cv::Mat& roots, const EdgeStrip& strip, const LineCourse& line, std::size_t row) {
  constexpr std::size_t kAround = 5;
  return cv::norm(
      step_across(roots, strip, line,
                  {std::max(line.rows.first + kAround, row) - kAround, std::min(line.rows.last, row + kAround + 1)}));
}

/// In a gap the light of what lies below goes on across the edge's line. Where it changes there by a good part of what
/// passes for the plate's end, that is a mark on the plate, and the edge stands (by experiment: up to a fifth in a gap,
/// a quarter to a half and more before marks).
constexpr double kEdgesStep = 0.25;

/// The straight line of an outline, where it has left that.
LineCourse straight_course(const EdgePath& path, const Excursion& rows) {
  return {rows, path.line_px[rows.first - 1], path.line_px[std::min(rows.last, path.line_px.size() - 1)]};
}

/// Less far behind the line an outline only wanders.
constexpr double kGapPx = 4;

/// True where it is a broken plate's own wall in the shade: about a third of the plate's light and no warmer than that,
/// as resin and rust are.
bool shows_dark_wall(const Around& a) {
  constexpr double kDark = 0.6;  // a third of the light, in its root
  constexpr double kMostWarmer = 0.04;
  for (int c = 0; c < 3; ++c) {
    if (a.gap[c] >= kDark * a.plate[c]) return false;
  }
  return warmth(a.gap) - warmth(a.plate) < kMostWarmer;
}

}  // namespace

double warmth(const cv::Vec3d& roots) {
  const cv::Vec3d light = roots.mul(roots);
  return (light[2] - light[0]) / std::max(1e-6, light[0] + light[1] + light[2]);
}

std::vector<Excursion> excursions(const std::vector<double>& off, double threshold) {
  std::vector<Excursion> out;
  for (std::size_t j = 0; j < off.size(); ++j) {
    if (off[j] < threshold) continue;
    if (out.empty() || out.back().last != j) out.push_back({j, j});
    out.back().last = j + 1;
  }
  return out;
}

std::vector<int> middles(const std::vector<int>& columns, std::size_t around) {
  std::vector<int> out;
  for (std::size_t j = 0; j < columns.size(); ++j) {
    const std::size_t first = std::max(around, j) - around;
    const std::size_t last = std::min(columns.size(), j + around + 1);
    out.push_back(static_cast<int>(median(std::vector<double>(columns.begin() + static_cast<std::ptrdiff_t>(first),
                                                              columns.begin() + static_cast<std::ptrdiff_t>(last)))));
  }
  return out;
}

void move_row(EdgePath& path, std::vector<int>& columns, const EdgeStrip& strip, std::size_t row, int column) {
  path.n_px[row] -= strip.step_n * (columns[row] - column);
  columns[row] = column;
}

std::vector<bool> follow_breaks(EdgePath& path, std::vector<int>& columns, const EdgeStrip& strip, const cv::Mat& roots,
                                double px_per_mm) {
  constexpr double kLeastMm = 0.08;  // along the edge
  constexpr double kMostMm = 2.5;
  constexpr double kLeastDepthMm = 0.05;
  constexpr std::size_t kLeastRows = 3;
  constexpr double kDeepestMm = 0.9;
  constexpr std::size_t kAround = 4;
  const double rows_per_mm = px_per_mm / strip.step_s;
  std::vector<bool> told(columns.size(), false);
  path.broken.assign(columns.size(), false);
  for (const Excursion& e : breaks_of(path, kLeastMm * rows_per_mm, kMostMm * rows_per_mm)) {
    for (std::size_t j = e.first; j < e.last; ++j) path.broken[j] = !over_slip(path, j);
    const LineCourse line{e, *path.flash_n_px[e.first - 1], *path.flash_n_px[e.last]};
    std::fill(path.flash_n_px.begin() + static_cast<std::ptrdiff_t>(e.first),
              path.flash_n_px.begin() + static_cast<std::ptrdiff_t>(e.last), std::nullopt);  // glints in the gap
    std::vector<int> ends(e.last - e.first, -1);
    for (std::size_t j = e.first; j < e.last; ++j) {
      if (!path.broken[j]) continue;
      const double crest = line.crest(j);
      const int at = std::clamp(static_cast<int>(strip.column(crest)), 0, roots.cols - 1);
      const int from = std::max(0, static_cast<int>(strip.column(crest - kDeepestMm * px_per_mm)));
      const auto end = change_in(roots, static_cast<int>(j), from, at);
      if (!end || crest - strip.n(*end) < kLeastDepthMm * px_per_mm) continue;
      const Around around = around_gap(roots, static_cast<int>(j), *end, at);
      const bool ends_at_line = step_across(roots, strip, line, j) > kEdgesStep * cv::norm(around.gap - around.plate);
      if ((shows_ground(around) && !ends_at_line) || shows_dark_wall(around)) ends[j - e.first] = *end;
    }
    for (const Excursion& gap : excursions(std::vector<double>(ends.begin(), ends.end()), 0)) {
      if (gap.last - gap.first < kLeastRows) continue;
      const auto first = ends.begin() + static_cast<std::ptrdiff_t>(gap.first);
      const std::vector<int> smooth =
          middles({first, first + static_cast<std::ptrdiff_t>(gap.last - gap.first)}, kAround);
      for (std::size_t k = 0; k < smooth.size(); ++k) {
        const std::size_t row = e.first + gap.first + k;
        told[row] = path.contrast[row] = true;
        move_row(path, columns, strip, row, smooth[k]);
      }
    }
  }
  return told;
}

void give_up_marks(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots) {
  constexpr std::size_t kLeastRows = 6;
  std::vector<double> off;
  for (std::size_t j = 0; j < path.n_px.size(); ++j)
    off.push_back(path.contrast[j] ? path.line_px[j] - path.n_px[j] : 0);
  for (const Excursion& e : excursions(off, kGapPx)) {
    // A rounded corner's bend comes from no line.
    const bool from_line = e.first > 0 && path.contrast[e.first - 1];
    if (e.last - e.first < kLeastRows || !from_line) continue;
    cv::Vec3d end(0, 0, 0);
    for (std::size_t j = e.first; j < e.last; ++j) {
      const Around around = around_gap(roots, static_cast<int>(j), static_cast<int>(strip.column(path.n_px[j])),
                                       static_cast<int>(strip.column(path.line_px[j])));
      end += (around.gap - around.plate) / static_cast<double>(e.last - e.first);
    }
    // Beyond the picture there is no light, and NaN is no step.
    const bool marks = cv::norm(step_across(roots, strip, straight_course(path, e), e)) > kEdgesStep * cv::norm(end);
    for (std::size_t j = e.first; marks && j < e.last; ++j) path.contrast[j] = false;
  }
}

void tell_gaps(EdgePath& path, const EdgeStrip& strip, const cv::Mat& roots) {
  for (std::size_t j = 0; j < path.n_px.size(); ++j) {
    const int end = static_cast<int>(strip.column(path.n_px[j]));
    const int line = static_cast<int>(strip.column(path.line_px[j]));
    path.open.push_back(path.line_px[j] - path.n_px[j] > kGapPx &&
                        shows_ground(around_gap(roots, static_cast<int>(j), end, line)));
  }
}

}  // namespace glintline
