#include "trace/plan_flash.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "math/line_fit.h"
#include "math/statistics.h"

namespace glintline {

namespace {

/// No strip of a rounding under 0.1 mm is wider.
constexpr double kWidestMm = 0.14;
constexpr double kWidestPx = 5;
/// Light over that of the surfaces beside it, a share of theirs, from which a row shows a line.
constexpr float kLeastOver = 0.2F;
/// The same for a row of a line that the others have shown to be there, as a share of that.
constexpr float kKnownShare = 0.5F;
/// Rough surfaces sparkle: so many times what all but a tenth of all places stand out by.
constexpr float kOverTexture = 1.5F;
/// How far from the coarse line it is looked for, and how much aslant.
constexpr double kReachMm = 0.35;
constexpr double kMostSlant = 0.05;
/// How far an unevenly worn edge strays from straight, either side.
constexpr double kStrayMm = 0.03;
constexpr double kStrayPx = 2;
/// Rows before this may lie on a rounded corner's bend.
constexpr double kBendMm = 1.2;
constexpr double kLeastShare = 0.55;
/// Before the bend a gap of this length ends the line of light; a chisel's own corner is rounded by as much as this.
constexpr double kMostGapMm = 0.15;
constexpr double kCornerMm = 0.3;

/// How far narrow bright places stand out of what lies beside them in their row, as a share of its light. Opening with
/// a line as long as the widest strip leaves steps and wide surfaces as they are (Serra, Image Analysis and
/// Mathematical Morphology, 1982: the top-hat transform).
cv::Mat standing_out(const EdgeStrip& strip, double px_per_mm) {
  constexpr float kDark = 0.02F;  // of white: what a gullet's grain is no share of
  cv::Mat channels[3];
  cv::split(strip.linear, channels);
  cv::Mat light = channels[0] + channels[1] + channels[2];
  light /= 3;
  cv::patchNaNs(light, 0);
  cv::blur(light, light, cv::Size(3, 3), cv::Point(-1, -1), cv::BORDER_REPLICATE);
  const int width = static_cast<int>(std::max(kWidestPx, kWidestMm * px_per_mm) / strip.step_n) | 1;
  cv::Mat beside;
  cv::morphologyEx(light, beside, cv::MORPH_OPEN, cv::Mat::ones(1, width, CV_8U));
  cv::Mat out;
  cv::divide(light - beside, cv::Mat(beside + kDark), out);
  return out;
}

/// What all but a tenth of the places between two columns stand out by.
float usually_over(const cv::Mat& over, double from, double to) {
  constexpr double kUsual = 0.9;
  constexpr int kEvery = 5;  // sample
  std::vector<double> some;
  for (int j = 0; j < over.rows; ++j) {
    for (int i = std::max(0, static_cast<int>(from)) + j % kEvery; i < std::min<double>(to, over.cols); i += kEvery)
      some.push_back(over.at<float>(j, i));
  }
  return some.empty() ? 0 : static_cast<float>(percentile(std::move(some), kUsual));
}

/// What a line must stand out by, on the rougher of both surfaces.
float least_over(const cv::Mat& over, const EdgeStrip& strip, double px_per_mm) {
  const double reach = kReachMm * px_per_mm;
  const float flat = usually_over(over, 0, strip.column(-reach));
  const float ground = usually_over(over, strip.column(reach / 2), over.cols);
  return std::max(kLeastOver, kOverTexture * std::max(flat, ground));
}

/// Column of the crest about a row's highest sample, by the parabola through it and its neighbours.
double crest(const float* row, int at, int cols) {
  if (at < 1 || at + 1 >= cols) return at;
  const double bend = row[at - 1] - 2.0 * row[at] + row[at + 1];
  return bend < 0 ? at + std::clamp(0.5 * (row[at - 1] - row[at + 1]) / bend, -0.5, 0.5) : at;
}

struct Slanted {
  double middle = 0;  ///< column at the middle row
  double slope = 0;   ///< columns a row

  [[nodiscard]] double column(int row, int rows) const { return middle + slope * (row - rows / 2); }
};

/// The straight line along which most rows show one; nothing where too few do.
std::optional<Slanted> best_line(const cv::Mat& places, const EdgeStrip& strip, double px_per_mm, int from_row,
                                 int stray) {
  cv::Mat shows;
  cv::dilate(places, shows, cv::Mat::ones(1, 2 * stray + 1, CV_8U));
  const double reach = kReachMm * px_per_mm / strip.step_n;
  const int rows = places.rows;
  const double most_slope = kMostSlant * strip.step_s / strip.step_n;
  const double slope_step = 2.0 / std::max(1, rows);
  constexpr int kStep = 2;  // rows and columns: finer than what an edge strays
  const double first = strip.column(0) - reach;
  int most = 0;
  Slanted best;
  std::vector<int> columns;  // of the first line of a slope, row by row
  for (double slope = -most_slope; slope <= most_slope; slope += slope_step) {
    columns.clear();
    for (int j = from_row; j < rows; j += kStep)
      columns.push_back(static_cast<int>(std::lround(Slanted{first, slope}.column(j, rows))));
    for (int aside = 0; aside <= 2 * reach; aside += kStep) {
      int count = 0;
      for (std::size_t k = 0; k < columns.size(); ++k) {
        const int i = columns[k] + aside;
        if (i >= 0 && i < shows.cols)
          count += shows.at<uchar>(from_row + kStep * static_cast<int>(k), i) != 0 ? 1 : 0;
      }
      if (count <= most) continue;
      most = count;
      best = {first + aside, slope};
    }
  }
  if (kStep * most < kLeastShare * (rows - from_row)) return std::nullopt;
  return best;
}

/// Where the rows show the line about `line`.
std::vector<std::optional<double>> places_along(const Slanted& line, const cv::Mat& over, float least, int stray) {
  std::vector<std::optional<double>> out(over.rows);
  for (int j = 0; j < over.rows; ++j) {
    const int at = static_cast<int>(std::lround(line.column(j, over.rows)));
    const int first = std::max(0, at - stray);
    const int last = std::min(over.cols - 1, at + stray);
    if (first >= last) continue;
    const auto* row = over.ptr<float>(j);
    const auto* peak = std::max_element(row + first, row + last + 1);
    if (*peak > least) out[j] = crest(row, static_cast<int>(peak - row), over.cols);
  }
  return out;
}

/// The line through them from `from_row` on: the first one lies anywhere among what is within its reach.
Slanted settled(const Slanted& line, const std::vector<std::optional<double>>& places, int from_row) {
  const auto rows = static_cast<int>(places.size());
  std::vector<Point2> points;
  for (int j = from_row; j < rows; ++j) {
    if (places[j]) points.emplace_back(j - rows / 2, *places[j]);
  }
  const auto fit = fit_line(points, {.loss = Loss::kTukey, .least_sigma = 1});
  if (!fit.ok() || std::abs(fit->line.direction.x()) < 0.9) return line;
  const double slope = fit->line.direction.y() / fit->line.direction.x();
  return {fit->line.point.y() - slope * fit->line.point.x(), slope};
}

/// Rows before the straight part.
struct Bend {
  int from_row = 0;    ///< the straight part begins
  int corner_row = 0;  ///< nearer to the corner its own rounding flashes by itself
  int most_gap = 0;    ///< rows without it end the line of light
};

/// Follows the line of light round a rounded corner's bend, from the straight part on towards the corner: no row lies
/// ahead of the last one by more than grain, nor further behind it than an edge that bends away by 45 degrees does.
void follow_bend(std::vector<std::optional<double>>& places, const cv::Mat& over, float least, const Bend& bend,
                 double columns_per_row) {
  constexpr double kGrain = 1;  // columns
  const auto first = std::find_if(places.begin() + bend.from_row, places.end(), [](const auto& p) { return p; });
  if (first == places.end()) return;
  double last = **first;
  int rows = static_cast<int>(first - places.begin()) - bend.from_row;
  for (int j = bend.from_row - 1; j >= bend.corner_row && rows <= bend.most_gap; --j) {
    ++rows;
    const int from = std::max(0, static_cast<int>(std::lround(last - kGrain - columns_per_row * rows)));
    const int to = std::min(over.cols - 1, static_cast<int>(std::lround(last + kGrain)));
    if (from >= to) return;
    const auto* row = over.ptr<float>(j);
    const auto* peak = std::max_element(row + from, row + to + 1);
    if (*peak <= least) continue;
    last = crest(row, static_cast<int>(peak - row), over.cols);
    places[j] = last;
    rows = 0;
  }
}

/// A chisel's line of light goes on to its corner. Where it ends before, the edge bends away, and what goes on along
/// its line belongs to something below: the light is followed round the bend instead.
void keep_to_corner(std::vector<std::optional<double>>& places, const cv::Mat& over, float least, const Bend& bend,
                    double columns_per_row) {
  std::fill(places.begin(), places.begin() + bend.corner_row, std::nullopt);
  int unseen = 0;
  for (int j = bend.from_row; j >= bend.corner_row; --j) {
    unseen = places[j] ? 0 : unseen + 1;
    if (unseen <= bend.most_gap) continue;
    std::fill(places.begin(), places.begin() + bend.from_row, std::nullopt);
    follow_bend(places, over, least, bend, columns_per_row);
    return;
  }
}

}  // namespace

std::optional<FlashLine> find_flash(const EdgeStrip& strip, double px_per_mm) {
  const int rows = strip.linear.rows;
  const double rows_per_mm = px_per_mm / strip.step_s;
  const int from_row = static_cast<int>(kBendMm * rows_per_mm);
  if (from_row >= rows - 1) return std::nullopt;
  const cv::Mat over = standing_out(strip, px_per_mm);
  const float least = least_over(over, strip, px_per_mm);
  const int stray = static_cast<int>(std::max(kStrayPx, kStrayMm * px_per_mm) / strip.step_n);
  auto line = best_line(over > least, strip, px_per_mm, from_row, stray);
  if (!line) return std::nullopt;
  for (int round = 0; round < 2; ++round)
    line = settled(*line, places_along(*line, over, kKnownShare * least, stray), from_row);
  const Bend bend{from_row, static_cast<int>(kCornerMm * rows_per_mm), static_cast<int>(kMostGapMm * rows_per_mm)};
  auto places = places_along(*line, over, kKnownShare * least, stray);
  keep_to_corner(places, over, kKnownShare * least, bend, strip.step_s / strip.step_n);
  FlashLine out;
  for (int j = 0; j < rows; ++j) {
    out.line_n_px.push_back(strip.n(line->column(j, rows)));
    out.n_px.push_back(places[j] ? std::optional(strip.n(*places[j])) : std::nullopt);
  }
  return out;
}

}  // namespace glintline
