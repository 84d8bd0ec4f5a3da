#include "trace/outline_sight.h"

#include <array>
#include <cmath>

#include "math/statistics.h"
#include "trace/edge_profile.h"
#include "math/linear_light.h"

namespace glintline {

namespace {

/// An edge in focus takes 1.35 blurs from a quarter of its step to three quarters, a rounded rim's up to about twice as
/// much; close to steel that hides a part of the sky the field darkens over more. What is wider than a foot of so many
/// blurs is seen as a strip, and its own edge may lie in a penumbra (by experiment: tests/accuracy).
constexpr double kSoftDropBlurs = 3;
constexpr double kFootBlurs = 6.5;

/// Light along `count` samples from `start` by `step`, averaged over `half` parallel samples either side, the camera's
/// sharpening taken out.
EdgeProfile profile_at(const CutterScene& s, const Point2& start, const Point2& step, int count, int half) {
  std::array<std::vector<double>, 3> codes;
  for (auto& channel : codes) channel.reserve(static_cast<std::size_t>(count));
  const Point2 aside = turned_quarter(step);
  for (int i = 0; i < count; ++i) {
    cv::Vec3d sum(0, 0, 0);
    int n = 0;
    for (int k = -half; k <= half; ++k) {
      const Point2 at = start + i * step + k * aside;
      const int x = cvRound(at.x());
      const int y = cvRound(at.y());
      if (x < 0 || y < 0 || x >= s.picture.cols || y >= s.picture.rows) continue;
      sum += s.picture.at<cv::Vec3b>(y, x);
      ++n;
    }
    if (n == 0) break;
    for (int c = 0; c < 3; ++c) codes[c].push_back(sum[c] / n);
  }
  for (auto& channel : codes) s.sharpening.take_out(channel);
  EdgeProfile p;
  for (auto* part : {&p.along, &p.across, &p.grey}) part->reserve(codes[0].size());
  for (std::size_t i = 0; i < codes[0].size(); ++i) {
    const cv::Vec3f light(linear_of(codes[0][i]), linear_of(codes[1][i]), linear_of(codes[2][i]));
    const float a = light.dot(s.field->direction);
    p.along.push_back(a);
    p.across.push_back(std::sqrt(std::max(0.0F, light.dot(light) - a * a)));
    p.grey.push_back(linear_of(luma(codes[0][i], codes[1][i], codes[2][i])));
  }
  p.smear = s.colour_smear() + s.blur;
  return p;
}

}  // namespace

double usual_reach(const CutterScene& s) { return 4 * s.blur + 3; }

std::optional<OutlineSighting> sight(const CutterScene& s, const Point2& coarse, const Point2& inwards, int half,
                                     double strip, double tinted) {
  const double reach = usual_reach(s);
  const int before = static_cast<int>(std::ceil(reach + std::max(strip, tinted) + 8 * s.blur + 6));
  const int count = before + static_cast<int>(std::ceil(reach + 4 * s.blur));
  const Point2 start = coarse - before * inwards;
  if (start.x() < 0 || start.y() < 0 || start.x() >= s.picture.cols || start.y() >= s.picture.rows) return std::nullopt;
  const EdgeProfile profile = profile_at(s, start, inwards, count, half);
  if (static_cast<int>(profile.along.size()) < count) return std::nullopt;
  EdgeSigns signs = find_edge(profile, before, reach, s.blur, strip);
  // What looks like a top's far rim where less than the least of its width would be seen may be dirt, or a shadow:
  // then, and where none is seen, the rim is looked for nearer by.
  const double least = kLeastTopShare * strip;
  const auto narrow = [&] { return signs.rise && (!signs.drop || signs.rise->at - signs.drop->at < least); };
  if (strip > 0 && narrow()) signs = find_edge(profile, before, reach, s.blur, std::max(0.0, least - reach));
  OutlineSighting seen;
  if (tinted > 0) {
    const EdgeSigns wide = find_edge(profile, before, reach, s.blur, std::max(strip, tinted));
    seen.steel_strip = strip_is_steel(profile, wide, s.blur);
    if (seen.steel_strip) signs = wide;
  }
  if (!signs.rise && !signs.drop && !signs.slow_fall) return std::nullopt;
  if (signs.rise) seen.rise = start + signs.rise->at * inwards;
  if (signs.drop) seen.drop = start + signs.drop->at * inwards;
  if (signs.rise && signs.drop) seen.mirror = std::max(0.0, signs.rise->at - signs.drop->at);
  seen.soft_drop = signs.drop && signs.drop->width > kSoftDropBlurs * s.blur && seen.mirror < kFootBlurs * s.blur;
  if (!signs.rise && signs.slow_fall) seen.slow_fall = start + signs.slow_fall->at * inwards;
  seen.blur = (signs.rise ? signs.rise : signs.drop ? signs.drop : signs.slow_fall)->blur;
  return seen;
}

namespace {

/// One past the last sighting over whose stretch a top is seen over its whole width; 0 where none is.
std::size_t end_of_whole_top(const std::vector<OutlineSighting>& seen, double whole_top) {
  constexpr double kLeastShare = 0.4;
  if (!(whole_top > 0)) return 0;
  std::size_t wide = 0;
  std::size_t end = 0;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    if (seen[i].mirror < whole_top) continue;
    ++wide;
    end = i + 1;
  }
  return static_cast<double>(wide) >= kLeastShare * static_cast<double>(end) ? end : 0;
}

/// True where sightings about `i` show a strip that is steel by its own light. It is faint, so a good share of them are
/// taken in by what is brighter behind it.
bool before_steel_strip(const std::vector<OutlineSighting>& seen, std::size_t i) {
  constexpr std::size_t kNeighbours = 25;
  const std::size_t from = i - std::min(i, kNeighbours);
  const std::size_t to = std::min(seen.size() - 1, i + kNeighbours);
  std::size_t steel = 0;
  for (std::size_t k = from; k <= to; ++k) steel += seen[k].steel_strip ? 1 : 0;
  return 3 * steel > to + 1 - from;
}

}  // namespace

std::vector<Point2> settled(const CutterScene& s, const std::vector<OutlineSighting>& seen, const MirrorStrip& strip) {
  constexpr std::size_t kNeighbours = 5;
  const std::size_t whole_top = end_of_whole_top(seen, strip.whole_top);
  std::vector<Point2> points;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    if (i < whole_top) {
      if (seen[i].drop && (!seen[i].rise || seen[i].mirror >= strip.whole_top)) points.push_back(*seen[i].drop);
      continue;
    }
    if (before_steel_strip(seen, i)) {
      if (seen[i].steel_strip) points.push_back(*seen[i].drop);
      continue;
    }
    std::vector<double> widths;
    for (std::size_t k = i - std::min(i, kNeighbours); k <= std::min(seen.size() - 1, i + kNeighbours); ++k) {
      widths.push_back(seen[k].rise ? seen[k].mirror : 1e3);
    }
    const bool mirrors = median(widths) * s.px_per_sample > strip.least_px;
    const auto& point = mirrors && seen[i].drop ? seen[i].drop : seen[i].rise;
    if (point && (!mirrors || seen[i].drop)) points.push_back(*point);
  }
  return points;
}

}  // namespace glintline
